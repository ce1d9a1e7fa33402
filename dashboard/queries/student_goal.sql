-- The goal that a student has set, one row or none. Parameters: student_id.
select words, metric, club_group, target, by_date
from mart.goal
where student_id = $student_id
