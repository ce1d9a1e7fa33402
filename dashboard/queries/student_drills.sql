-- One drill done by a student. Parameters: student_id.
select episode.episode_id, episode.night, episode.begins_at, episode.drill_id, drill.name, episode.club_group,
    episode.chosen_by, episode.drill_shots, drill.aim_metric
from core.drill_episode as episode
left join mart.drill as drill on episode.drill_id = drill.drill_id
where episode.student_id = $student_id and episode.kind = 'drill'
order by episode.begins_at
