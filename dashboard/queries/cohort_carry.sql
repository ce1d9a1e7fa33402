-- One month or week of a cohort with a club group: measured carry and the same launches on standard air.
-- Parameters: cohort, club_group, period.
select
    starts_on, students, shots, air_density, carry, carry_low, carry_high, standard_carry, standard_carry_low,
    standard_carry_high, difference, difference_low, difference_high
from mart.cohort_carry
where cohort = $cohort and club_group = $club_group and period = $period and carry_low is not null
order by starts_on
