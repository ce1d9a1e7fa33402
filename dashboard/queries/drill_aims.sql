-- One drill and club group, for its aim in the same session: which way is better, what matters, the verdict.
select drill_id, metric, measure, club_group, horizon, is_aim, better, matters_from, verdict
from mart.drill_effect
where is_aim and horizon = 'transfer'
order by drill_id, club_group
