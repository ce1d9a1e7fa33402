-- One drill for one student: expected change of the next episode, with the drill's evidence. Parameters: student_id.
with forecasts as (select * from mart.drill_forecast where student_id = $student_id),

effects as (
    select drill_id, metric, measure, club_group, verdict, certainty, students, better
    from mart.drill_effect
    where horizon = 'transfer'
)

select
    forecasts.drill_id, drill.name, forecasts.metric, forecasts.club_group, forecasts.expected_effect,
    forecasts.interval_low, forecasts.interval_high, forecasts.measure, forecasts.gap, forecasts.free_practice_change, forecasts.episodes, drill.aim_direction,
    drill.aim_target, drill.setup, drill.caution, effects.verdict, effects.certainty, effects.students, effects.better
from forecasts
inner join mart.drill as drill on forecasts.drill_id = drill.drill_id
left join effects
    on forecasts.drill_id = effects.drill_id
    and forecasts.metric = effects.metric
    and forecasts.club_group = effects.club_group
    and forecasts.measure = effects.measure
where forecasts.expected_effect is not null
order by forecasts.metric, forecasts.club_group, drill.name
