-- One bay a row.
select bay_id, site_id, site_name, timezone, altitude_m, export_profile, setting, ball
from mart.bay
order by site_id, bay_id
