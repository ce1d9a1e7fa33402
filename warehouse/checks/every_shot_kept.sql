-- blocking: every loaded row of a night built, of a bay in bays.csv, is one core.shot
-- about: core.shot
-- remedy: run `academy nightly --rebuild`; if it stays, the program is at fault
with loaded as (
    select night, sum(rows_loaded) as rows_loaded
    from raw.export_file
    semi join raw.bay using (bay_id)
    where in_force
    group by night
)

select loaded.night::varchar as example
from loaded
semi join stage.night using (night)
left join ops.night as built using (night)
where loaded.rows_loaded <> coalesce(built.shots, 0)
