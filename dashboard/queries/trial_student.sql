-- One student, as far as taking part in a trial asks: age and agreement to be evidence. Parameters: student_id.
select student_id, coalesce(minor, true) as minor, age_group is null as age_unknown, in_evidence from mart.student where student_id = $student_id
