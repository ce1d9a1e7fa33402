-- One bay's clock against the lesson book.
select bay_id, lessons, ahead_seconds, set_seconds, out_of_step
from mart.bay_clock
order by abs(ahead_seconds) desc nulls last, bay_id
