-- One block of a student's free shots with a club, latest first, of the latest twelve nights. Parameters: student_id,
-- club_group.
with sessions as (
    select session_id, night, begins_at, drills
    from core.session
    where student_id = $student_id
    qualify dense_rank() over (order by night desc) <= 12
),

-- The nights are named so that no other night's blocks are read.
blocks as materialized (
    select session_id, segment, club, night, max(shots) as shots
    from core.block
    where student_id = $student_id and club_group = $club_group
        and night in (select night from sessions)
        and night >= (select coalesce(min(night), 'infinity') from sessions)
    group by all
),

episodes as (
    select session_id, position, drill_id from core.drill_episode where student_id = $student_id and kind = 'drill'
)

select
    blocks.session_id, blocks.segment, blocks.club, blocks.night, sessions.begins_at, sessions.drills, blocks.shots,
    drill.name as after_drill
from blocks
inner join sessions on blocks.session_id = sessions.session_id
left join episodes on blocks.session_id = episodes.session_id and blocks.segment = episodes.position
left join mart.drill as drill on episodes.drill_id = drill.drill_id
order by sessions.begins_at desc, blocks.segment desc, blocks.club
