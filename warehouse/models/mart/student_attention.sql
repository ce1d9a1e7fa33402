-- one row: one student listed as sliding on the goal number, the surest three
with sliding as (
    select
        *,
        count(*) over () as students
    from mart.student_list
    where listed and side = 'worse'
)

select
    3 as urgency,
    'student slides' as kind,
    student_id as subject_id,
    metric,
    club_group,
    latest_week as since,
    students as counted,
    -- the Benjamini-Hochberg bound: at most one in twenty of a list
    0.05 * students as amount
from sliding
qualify row_number() over (order by q_value, student_id) <= 3
