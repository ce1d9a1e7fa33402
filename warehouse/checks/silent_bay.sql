-- warning: a bay with lessons sent nothing on the latest night
-- about: mart.bay_night
-- remedy: bring in its export: a file that comes late is picked up by the next run
select bay_id as example
from mart.bay_night
where state = 'silent' and night = (select max(night) from mart.bay_night)
