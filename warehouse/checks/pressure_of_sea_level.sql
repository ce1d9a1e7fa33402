-- warning: an outdoor bay's air pressure is that of sea level, not of its altitude; the model's carries are short there
-- about: core.shot
-- remedy: map the pressure as measured at the bay, or leave air_pressure out of its profile
-- weather moves pressure by 5% at the very most; the standard atmosphere is ISO 2533
with measured as (
    select bay_id, median(air_pressure) as air_pressure
    from raw.shot
    semi join stage.night using (night)
    where air_pressure is not null and air_temperature is not null
    group by bay_id
)

select measured.bay_id as example
from measured
join raw.bay as bay using (bay_id)
join raw.site as site on bay.site_id = site.site_id
where bay.setting = 'outdoor' and measured.air_pressure > 1.06 * 1013.25 * (1 - 2.25577e-5 * site.altitude_m) ** 5.25588
