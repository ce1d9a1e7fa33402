-- warning: placebo drills, which do nothing, were found to do something more often than luck would have it
-- about: mart.placebo_check
-- remedy: take effects on these numbers with caution, look for a changed device or a log that is off, and draw lots
select horizon || ', ' || metric as example
from mart.placebo_check
where is_aim and placebos >= 10 and (1 - held_share) > 0.05 + 3 * sqrt(0.05 * 0.95 / placebos)
