-- One sentence on a student's latest session with a club group, dearest first. Parameters: student_id, club_group.
select place, kind, metric, cost, sentence
from mart.delivery_reading
where student_id = $student_id and club_group = $club_group
order by place
