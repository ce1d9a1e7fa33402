-- one row: one student in a pair of windows, by the measure that mart.cohort_change takes for the metric
with windows as (
    select *
    from mart.cohort_change
),

members as (
    select *
    from mart.cohort_member
),

blocks as (
    select *
    from core.first_block
),

seen as (
    select
        windows.cohort,
        windows.window_pair,
        windows.club_group,
        windows.metric,
        windows.measure,
        blocks.student_id,
        avg(blocks.centre) filter (blocks.night between windows.before_from and windows.before_to) as before,
        avg(blocks.centre) filter (blocks.night between windows.after_from and windows.after_to) as after
    from windows
    join members
        on windows.cohort = members.cohort
        and members.from_date <= windows.before_to
        and coalesce(members.to_date, windows.before_from) >= windows.before_from
    join blocks
        on members.student_id = blocks.student_id
        and windows.club_group = blocks.club_group
        and windows.metric = blocks.metric
    group by all
)

select
    cohort,
    window_pair,
    club_group,
    metric,
    student_id,
    case when measure = 'distance' then abs(before) else before end as before,
    case when measure = 'distance' then sign(before) * after else after end as after
from seen
where before is not null
