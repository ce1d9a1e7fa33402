-- one row: one number of a bay on a night that cannot be what its profile says, with the likely cause
select
    fault.night,
    fault.bay_id,
    fault.metric,
    fault.kind,
    bay.export_profile,
    fault.shots,
    fault.found,
    fault.cause
from stage.bay_fault as fault
join raw.bay as bay using (bay_id)
