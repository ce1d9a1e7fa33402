-- one row: one student's goal as it stands
select
    student_id,
    words,
    metric,
    club_group,
    target,
    by_date
from raw.goal
qualify row_number() over (partition by student_id order by entered_at desc) = 1
