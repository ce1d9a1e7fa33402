-- one row: one student whose goal number slides beyond day-to-day noise, false discoveries over students controlled
with done as (
    select
        episode.student_id,
        drill.aim_metric as metric,
        episode.club_group,
        count(*) as episodes
    from core.drill_episode as episode
    join mart.drill as drill using (drill_id)
    where drill.aim_metric is not null and episode.club_group is not null
    group by all
),

-- the goal entered; else what the student's drills mostly aim at
goals as (
    select
        student_id,
        metric,
        club_group
    from mart.goal
    union all
    select
        student_id,
        metric,
        club_group
    from done
    anti join mart.goal as goal using (student_id)
    qualify row_number() over (partition by student_id order by episodes desc, metric, club_group) = 1
),

sliding as (
    select
        change.student_id,
        change.metric,
        change.latest_week,
        change.q_value,
        metric.label,
        count(*) over () as listed
    from mart.student_change as change
    join goals using (student_id, metric, club_group)
    join mart.metric as metric using (metric, club_group)
    where
        change.beyond and change.q_value <= 0.05
        and (
            (metric.better = 'up' and change.change_beyond_expected < 0)
            or (metric.better = 'down' and change.change_beyond_expected > 0)
            or (metric.better = 'zero' and change.distance_low > 0)
        )
)

select
    3 as urgency,
    'student slides' as kind,
    student_id as subject_id,
    metric,
    latest_week as since,
    format(
        'The goal number of student {}, {}, got worse by more than day-to-day differences explain '
        || '(listed {}; luck alone would list about {:.0f}).',
        student_id, label, listed, ceil(0.05 * listed)
    ) as sentence
from sliding
qualify row_number() over (order by q_value, student_id) <= 3
