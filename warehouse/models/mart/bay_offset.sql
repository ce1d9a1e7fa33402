-- one row: one bay and metric, with what the bay adds since its last recalibration
with epochs as (
    select *
    from core.bay_epoch
    qualify row_number() over (partition by bay_id, metric order by from_date desc) = 1
),

drift as (
    select
        bay_id,
        metric,
        drifting
    from mart.bay_week
    qualify row_number() over (partition by bay_id, metric order by week desc) = 1
)

select
    epochs.bay_id,
    epochs.metric,
    epochs.bay_offset,
    epochs.ci_low,
    epochs.ci_high,
    epochs.overlap_students,
    epochs.comparable_set,
    coalesce(drift.drifting, false) as drifting,
    epochs.from_date,
    epochs.begun_by
from epochs
left join drift using (bay_id, metric)
