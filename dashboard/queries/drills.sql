-- One drill a row, the most used first, those without an aim last.
select
    drill_id, name, aim_metric, aim_direction, aim_target, club_group, setup, caution, episodes, uses_per_week, last_used
from mart.drill
order by aim_metric is null, episodes desc, name
