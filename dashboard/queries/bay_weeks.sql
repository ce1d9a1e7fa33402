-- One week of one bay's offset. Parameters: bay_id, metric.
select
    week, weekly_offset, weekly_offset - 1.96 * standard_error as offset_low,
    weekly_offset + 1.96 * standard_error as offset_high, cusum_high, cusum_low, drifting
from mart.bay_week
where bay_id = $bay_id and metric = $metric
order by week
