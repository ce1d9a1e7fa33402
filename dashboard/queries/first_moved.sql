-- How many students' first sessions of a number were moved by an event: one row. Parameters: metric, club_group.
with blocks as (
    select student_id, min(week) as week
    from core.first_block
    where metric = $metric and club_group = $club_group
    group by student_id
)

select count(*) as students
from mart.student_change as change
inner join blocks on change.student_id = blocks.student_id
where change.metric = $metric and change.club_group = $club_group and change.first_week > blocks.week
