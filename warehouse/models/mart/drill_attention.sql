-- one row: one drill that hurts, does nothing, or is used on thin evidence
with effects as (
    select
        effect.*,
        drill.uses_per_week,
        drill.last_used
    from mart.drill_effect as effect
    join mart.drill as drill using (drill_id, club_group)
    where effect.is_aim and effect.horizon = 'transfer' and drill.uses_per_week > 0
),

stopped as (
    select
        1 as urgency,
        'drill was stopped' as kind,
        stop.drill_id as subject_id,
        stop.kind as metric,
        stop.last_on as since,
        stop.stops as counted
    from mart.drill_stop as stop
),

hurting as (
    select
        1 as urgency,
        'drill goes the wrong way' as kind,
        drill_id as subject_id,
        metric,
        club_group,
        last_used as since,
        uses_per_week as amount
    from effects
    where verdict = 'wrong way'
),

side_effects as (
    select
        2 as urgency,
        'drill has a side effect' as kind,
        side_effect.drill_id as subject_id,
        side_effect.outcome as metric,
        drill.last_used as since,
        min(side_effect.warning_reason) as reason
    from mart.drill_side_effect as side_effect
    join mart.drill as drill using (drill_id)
    where side_effect.warning and drill.uses_per_week > 0
    group by side_effect.drill_id, side_effect.outcome, drill.last_used
),

idle as (
    select
        4 as urgency,
        'drill changes nothing' as kind,
        drill_id as subject_id,
        metric,
        club_group,
        last_used as since,
        uses_per_week as amount
    from effects
    where verdict = 'no meaningful effect'
),

thin as (
    select
        5 as urgency,
        'evidence is thin' as kind,
        drill_id as subject_id,
        metric,
        club_group,
        last_used as since,
        verdict_reason as reason
    from effects
    where verdict = 'too early'
    qualify row_number() over (order by uses_per_week desc, drill_id) <= 2
)

select * from stopped
union all by name
select * from hurting
union all by name
select * from side_effects
union all by name
select * from idle
union all by name
select * from thin
