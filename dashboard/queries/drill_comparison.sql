-- One drill and horizon, for one number. Parameters: metric, club_group, measure.
select
    effect.drill_id, drill.name, drill.aim_metric, drill.aim_direction, drill.aim_target,
    effect.is_aim, effect.metric, effect.measure, effect.club_group,
    effect.horizon, effect.episodes, effect.students, effect.drawn_share, effect.naive_change, effect.effect,
    effect.ci_low, effect.ci_high, effect.shrunk_effect, effect.shrunk_low, effect.shrunk_high, effect.verdict,
    effect.verdict_reason, effect.certainty, effect.certainty_reason, effect.matters_from, effect.better, effect.not_estimable_reason, effect.followed_share
from mart.drill_effect as effect
inner join mart.drill as drill on effect.drill_id = drill.drill_id
where effect.metric = $metric
    and effect.club_group = $club_group
    and effect.measure = $measure
order by effect.drill_id, effect.horizon desc
