-- One drill a row, the most used first.
select
    drill_id, name, aim_metric, aim_direction, aim_target, club_group, setup, caution, episodes, uses_per_week, last_used
from mart.drill
order by episodes desc, name
