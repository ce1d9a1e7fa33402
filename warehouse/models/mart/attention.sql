-- one row: one thing that needs somebody's attention, most urgent first
with things as (
    select * from mart.drill_attention
    union all by name
    select * from mart.bay_attention
    union all by name
    select * from mart.student_attention
)

select
    row_number() over (order by urgency, kind, subject_id, metric)::integer as rank,
    kind,
    subject_id,
    metric,
    club_group,
    since,
    counted,
    amount,
    reason
from things
