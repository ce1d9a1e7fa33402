-- warning: a bay whose export was expected sent none
-- about: mart.bay_night
-- remedy: bring it in (a file that comes late is picked up by the next run); `academy missing` lists all, with what to do
-- nights since the last with a file, and the week before it; without lessons only what this morning can still mend
select bay_id || ' on ' || string_agg(night::varchar, ', ' order by night) as example
from mart.bay_night
where state = 'silent' and night > (select max(night) from mart.bay_night where files > 0) - 7
    and (expected_by = 'lessons' or night >= getvariable('today') - 14)
group by bay_id
