-- One kind of lost ball, before and after a drill. Parameters: drill_id.
select club_group, outcome, episodes, students, before, after, effect, ci_low, ci_high, warning, warning_reason
from mart.drill_side_effect
where drill_id = $drill_id
order by club_group, outcome
