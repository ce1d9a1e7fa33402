-- One reason for which a drill was stopped. Parameters: drill_id.
select kind, stops, last_on
from mart.drill_stop
where drill_id = $drill_id
order by stops desc, kind
