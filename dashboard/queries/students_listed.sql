-- One student listed two weeks running as better or worse on the own goal number, the surest first.
select
    listed.student_id, coalesce(student.name, listed.student_id) as shown_as, listed.metric, listed.club_group,
    listed.side, listed.change_beyond_expected, listed.q_value, listed.latest_week
from mart.student_list as listed
left join mart.student as student on listed.student_id = student.student_id
where listed.listed
order by listed.q_value, listed.student_id
