-- blocking: every loaded row of a night built is one core.shot
-- about: core.shot
with loaded as (
    select night, sum(rows_loaded) as rows_loaded
    from raw.export_file
    where in_force
    group by night
)

select loaded.night::varchar as example
from loaded
semi join stage.night using (night)
left join ops.night as built using (night)
where loaded.rows_loaded <> coalesce(built.shots, 0)
