-- One number and club group that drills aim at: first those with most drills to compare, then the most practised.
with drills as (select drill_id, aim_metric, club_group from mart.drill where aim_metric is not null),

effects as (
    select drill_id, metric, club_group, max(episodes) as episodes
    from mart.drill_effect
    where horizon = 'transfer' and measure in ('centre', 'distance')
    group by drill_id, metric, club_group
)

select effects.metric, effects.club_group, sum(effects.episodes) as episodes, count(*) as drills
from effects
inner join drills on effects.drill_id = drills.drill_id and effects.metric = drills.aim_metric
group by effects.metric, effects.club_group
order by drills desc, episodes desc, effects.metric, effects.club_group
