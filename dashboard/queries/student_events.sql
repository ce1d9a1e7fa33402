-- One event that keeps a student's earlier sessions out of the comparison with the latest, the latest first.
-- Parameters: student_id, club_group, metric.
with blocks as (
    select session_id, night, bay_id, club
    from core.first_block
    where student_id = $student_id and club_group = $club_group and metric = $metric
),

last_day as (select max(night) as night from blocks),

events as (select student_id, bay_id, club, on_date, kind from core.interruption)

select events.on_date, events.kind, count(distinct blocks.session_id) as sessions
from events
cross join last_day
inner join blocks
    on blocks.night < events.on_date
    and (
        (events.student_id = $student_id and coalesce(events.club = blocks.club, true))
        or events.bay_id = blocks.bay_id
    )
where events.on_date <= last_day.night
group by events.on_date, events.kind
order by events.on_date desc
