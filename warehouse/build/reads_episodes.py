"""What the evidence models read: one row an episode and metric, with the drill's facts and the student's hand."""

EPISODES = """
select
    episode.episode_id,
    episode.kind,
    episode.drill_id,
    episode.student_id,
    episode.session_id,
    episode.coach_id,
    episode.bay_id,
    episode.club,
    episode.club_group,
    episode.chosen_by,
    episode.begins_at,
    episode.week,
    episode.followed_by_drill,
    episode.drill_shots,
    episode.pre_struck - episode.pre_mishits as pre_balls,
    episode.post_struck - episode.post_mishits as post_balls,
    student.handed,
    measured.* exclude (episode_id) replace (
        if(measured.pre_shots >= getvariable('min_block_shots'), measured.pre_centre, null) as pre_centre,
        if(measured.pre_shots >= getvariable('min_block_shots'), measured.pre_variance, null) as pre_variance,
        if(measured.pre_shots >= getvariable('min_block_shots'), measured.pre_spread, null) as pre_spread,
        if(measured.post_shots >= getvariable('min_block_shots'), measured.post_centre, null) as post_centre,
        if(measured.post_shots >= getvariable('min_block_shots'), measured.post_variance, null) as post_variance,
        if(measured.post_shots >= getvariable('min_block_shots'), measured.post_spread, null) as post_spread
    ),
    cast(episode.begins_at as date) + cast(getvariable('retention_days') as integer)
    <= max(cast(episode.begins_at as date)) over () as ripe,
    drill.aim_metric,
    drill.aim_direction,
    drill.aim_target,
    drill.club_group as drill_club_group
from core.episode_metric as measured
join core.drill_episode as episode using (episode_id)
join raw.student as student using (student_id)
left join raw.drill as drill using (drill_id)
where episode.club is not null
order by measured.metric, episode.begins_at, episode.episode_id
"""
METRICS = "select metric, club_group, matters_from, better from mart.metric order by all"
EPISODE_READS = {"episodes": EPISODES, "metrics": METRICS}
