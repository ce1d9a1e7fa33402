-- One thing observed by eye, and how its changes went together with those of a number; for any club, every group.
-- Parameters: metric, club_group.
select
    measure, unit, metric, club_group, students, pairs, typical_change, slope, slope_low, slope_high, rank_correlation,
    p_value, q_value, finding
from mart.setup_association
where metric = $metric and (club_group = $club_group or $club_group = 'any')
order by finding = 'too few', abs(slope * typical_change) desc nulls last, measure, club_group
