-- One drill and number, same session: the drill's own clubs, direction numbers by their distance from the target.
with sided as (select distinct metric from mart.metric where better = 'zero')

select
    drill.drill_id, drill.name, effect.metric, effect.club_group, effect.measure, effect.is_aim, effect.better,
    effect.effect, effect.ci_low, effect.ci_high, effect.verdict, effect.certainty, effect.students, drill.episodes
from mart.drill as drill
inner join mart.drill_effect as effect
    on drill.drill_id = effect.drill_id and drill.club_group = effect.club_group
left join sided on effect.metric = sided.metric
where effect.horizon = 'transfer' and effect.ci_low is not null
    and (effect.is_aim or effect.measure = case when sided.metric is null then 'centre' else 'distance' end)
order by drill.aim_metric is null, drill.aim_metric, drill.episodes desc, drill.name, effect.metric,
    effect.is_aim desc
