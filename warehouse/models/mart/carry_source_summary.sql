-- one row: one drill or cohort, with the mean parts of the change in carry, each student counting once
with episodes as (
    select *
    from mart.carry_source
),

members as (
    select distinct
        student_id,
        cohort
    from mart.cohort_member
),

grouped as (
    select
        'drill' as grouped_by,
        drill_id as group_id,
        *
    from episodes
    where drill_id is not null
    union all by name
    select
        'cohort' as grouped_by,
        members.cohort as group_id,
        episodes.*
    from episodes
    join members using (student_id)
    where episodes.drill_id is not null
),

students as (
    select
        grouped_by,
        group_id,
        club_group,
        student_id,
        count(*) as episodes,
        avg(columns('^(carry_change|from_.*|remainder)$'))
    from grouped
    group by grouped_by, group_id, club_group, student_id
)

select
    grouped_by,
    group_id,
    club_group,
    sum(episodes) as episodes,
    count(*) as students,
    avg(columns('^(carry_change|from_.*|remainder)$'))
from students
group by grouped_by, group_id, club_group
