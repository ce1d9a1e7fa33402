-- one row: one thing a coach saw that no sensor reports, from the academy's table or the notebook
select distinct
    student_id,
    observed_at,
    measure,
    value,
    unit
from (
    select
        student_id,
        observed_at,
        measure,
        value,
        unit
    from raw.observation
    union all
    select
        student_id,
        observed_at,
        measure,
        value,
        unit
    from raw.entered_observation
)
qualify row_number() over (partition by student_id, observed_at, measure order by value) = 1
