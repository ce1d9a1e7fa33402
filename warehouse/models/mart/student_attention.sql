-- one row: one student whose number slides beyond day-to-day noise
with sliding as (
    select
        3 as urgency,
        'student slides' as kind,
        change.student_id as subject_id,
        change.metric,
        change.latest_week as since,
        format('{} of student {} got worse by more than day-to-day differences explain.', metric.label, change.student_id)
            as sentence
    from mart.student_change as change
    join mart.metric as metric using (metric, club_group)
    where
        change.club_group = 'driver' and change.beyond and change.q_value <= 0.05
        and ((metric.better = 'up' and change.change_beyond_expected < 0)
            or (metric.better = 'down' and change.change_beyond_expected > 0))
    qualify row_number() over (partition by change.student_id order by change.q_value, change.metric) = 1
)

select * from sliding
