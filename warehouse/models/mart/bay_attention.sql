-- one row: one bay that is silent, drifts, or keeps the wrong time
with silent as (
    select
        2 as urgency,
        'bay is silent' as kind,
        bay_id as subject_id,
        '' as metric,
        min(night) as since,
        count(*) as counted
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
        count(*) as counted
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
        ahead_seconds as amount
    from mart.bay_clock
    where out_of_step
)

select * from silent
union all by name
select * from drifting
union all by name
select * from out_of_step
