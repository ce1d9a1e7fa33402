-- One student whose latest lesson was with this coach. No outcomes. Parameters: coach_id.
select student_id
from core.session
where coach_id is not null
group by student_id
having arg_max(coach_id, begins_at) = $coach_id
