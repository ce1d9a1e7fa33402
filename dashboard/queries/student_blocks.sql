-- One block of a student's free shots with a club, latest first. Parameters: student_id, club_group.
select
    block.session_id, block.segment, block.club, block.night, session.begins_at, session.drills,
    max(block.shots) as shots, drill.name as after_drill
from core.block as block
inner join core.session as session on block.session_id = session.session_id
left join core.drill_episode as episode
    on block.session_id = episode.session_id and block.segment = episode.position and episode.kind = 'drill'
left join mart.drill as drill on episode.drill_id = drill.drill_id
where block.student_id = $student_id and block.club_group = $club_group
group by all
order by session.begins_at desc, block.segment desc, block.club
