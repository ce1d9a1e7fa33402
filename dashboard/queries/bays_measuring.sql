-- One bay that reported in the last four weeks, and whether any of its balls has a number. Parameters: metric.
with latest as (select max(night) as night from core.session)

select block.bay_id, bool_or(block.metric = $metric) as measures
from core.block as block
cross join latest
where block.night > latest.night - interval 28 day
group by block.bay_id
order by block.bay_id
