-- one row: one drill, with how often it is used
with uses as (
    select
        drill_id,
        count(*) as episodes,
        max(night) as last_used,
        count(*) filter (night > (select max(night) from core.session) - 28) / 4.0 as uses_per_week
    from core.drill_episode
    where kind = 'drill'
    group by drill_id
)

select
    drill.drill_id,
    drill.name,
    drill.aim_metric,
    drill.aim_direction,
    drill.aim_target,
    drill.club_group,
    drill.setup,
    drill.caution,
    coalesce(uses.episodes, 0) as episodes,
    coalesce(uses.uses_per_week, 0) as uses_per_week,
    uses.last_used
from raw.drill as drill
left join uses using (drill_id)
