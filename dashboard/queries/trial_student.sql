-- One student, as far as taking part in a trial asks: age and agreement to be evidence. Parameters: student_id.
select student_id, minor, in_evidence from mart.student where student_id = $student_id
