-- One student whose latest lesson was with this coach. No outcomes. Parameters: coach_id.
select student_id
from core.session
where coach_id is not null
qualify row_number() over (partition by student_id order by begins_at desc) = 1 and coach_id = $coach_id
