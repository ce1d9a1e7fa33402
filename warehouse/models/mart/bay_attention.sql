-- one row: one bay that is silent, drifts, or keeps the wrong time
with silent as (
    select
        2 as urgency,
        'bay is silent' as kind,
        bay_id as subject_id,
        '' as metric,
        min(night) as since,
        format('Bay {} sent nothing on {} of the last 7 nights on which it had lessons.', bay_id, count(*)) as sentence
    from mart.bay_night
    where state in ('silent', 'refused') and night > (select max(night) from mart.bay_night) - 7
    group by bay_id
),

drifting as (
    select
        3 as urgency,
        'bay drifts' as kind,
        bay_id as subject_id,
        min(metric) as metric,
        min(from_date) filter (from_date > date '1900-01-01') as since,
        format('Bay {} drifts in {} of its numbers; have its device checked.', bay_id, count(*)) as sentence
    from mart.bay_offset
    where drifting
    group by bay_id
),

out_of_step as (
    select
        3 as urgency,
        'bay clock is off' as kind,
        bay_id as subject_id,
        '' as metric,
        null::date as since,
        format('The clock of bay {} seems {:.0f} seconds {} the lesson book; set it, or enter it in academy.toml.', bay_id,
            abs(ahead_seconds), case when ahead_seconds > 0 then 'ahead of' else 'behind' end) as sentence
    from mart.bay_clock
    where out_of_step
)

select * from silent
union all by name
select * from drifting
union all by name
select * from out_of_step
