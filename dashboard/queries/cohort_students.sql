-- One student in a cohort's pair of windows. Parameters: cohort, window_pair, club_group, metric.
select
    points.student_id,
    coalesce(student.name, points.student_id) as shown_as,
    points.before,
    points.after,
    student.last_seen
from mart.cohort_student as points
left join mart.student as student on points.student_id = student.student_id
where points.cohort = $cohort
    and points.window_pair = $window_pair
    and points.club_group = $club_group
    and points.metric = $metric
order by points.student_id
