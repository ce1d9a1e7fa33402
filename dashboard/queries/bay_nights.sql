-- One bay and night, over the latest nights. Parameters: nights.
with nights as (select distinct night from mart.bay_night order by night desc limit $nights)

select
    bay_night.night, bay_night.bay_id, bay_night.site_id, bay_night.state, bay_night.files, bay_night.shots,
    bay_night.rejected, bay_night.duplicates, bay_night.unattributed, bay_night.lessons, bay_night.late,
    bay_night.reason
from mart.bay_night as bay_night
inner join nights on bay_night.night = nights.night
order by bay_night.night, bay_night.site_id, bay_night.bay_id
