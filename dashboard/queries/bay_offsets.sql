-- One bay's offset of a number. Parameters: metric.
select bay_id, metric, bay_offset, ci_low, ci_high, overlap_students, comparable_set, drifting, from_date
from mart.bay_offset
where metric = $metric
order by bay_id
