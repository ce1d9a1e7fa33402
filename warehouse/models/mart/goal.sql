-- one row: one student's goal as it stands; its words come in as the file for those who may see them is made
select
    student_id,
    null::varchar as words,
    metric,
    club_group,
    target,
    by_date
from raw.goal
qualify row_number() over (partition by student_id order by entered_at desc) = 1
