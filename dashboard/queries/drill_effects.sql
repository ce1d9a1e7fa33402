-- One effect of a drill: every number, measure, club group and horizon. Parameters: drill_id.
select
    effect.drill_id, drill.name, effect.metric, effect.measure, effect.club_group, effect.horizon, effect.episodes,
    effect.students, effect.drawn_share, effect.naive_change, effect.effect, effect.ci_low, effect.ci_high,
    effect.check_effect, effect.check_low, effect.check_high, effect.p_value, effect.q_value, effect.responder_share,
    effect.free_practice_responder_share, effect.verdict, effect.verdict_reason, effect.certainty,
    effect.certainty_reason, effect.not_estimable_reason, effect.followed_share, effect.is_aim,
    effect.matters_from, effect.better, effect.comparator, effect.comparator_alone, effect.comparator_with_coach,
    effect.free_change, effect.effect_beyond_lesson, effect.beyond_lesson_low,
    effect.beyond_lesson_high, effect.drawn_effect, effect.drawn_low, effect.drawn_high, effect.robustness_value
from mart.drill_effect as effect
inner join mart.drill as drill on effect.drill_id = drill.drill_id
where effect.drill_id = $drill_id
order by effect.metric, effect.measure, effect.club_group, effect.horizon desc
