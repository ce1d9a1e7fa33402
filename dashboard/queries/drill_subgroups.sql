-- One group of students: does the drill do something else for them? Parameters: drill_id.
select metric, measure, club_group, characteristic, level, episodes, students, effect, ci_low, ci_high, q_value, finding
from mart.subgroup_effect
where drill_id = $drill_id
order by metric, club_group, characteristic, level
