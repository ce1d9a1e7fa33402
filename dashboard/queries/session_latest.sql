-- A student's latest session, one row or none. Parameters: student_id.
select session_id, night, bay_id, begins_at, ends_at, shots, usable_shots, mishits, drills, main_club
from core.session
where student_id = $student_id
order by begins_at desc
limit 1
