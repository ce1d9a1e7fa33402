-- One student a row, who is most likely in the bay at this hour first: a coach's own (latest lesson), then by sessions at this site, on
-- this weekday, within 75 minutes of this time, over the last eight weeks. Parameters: site_id, at, coach_id (null: none).
with latest as (select max(night) as night from core.session),

visits as (
    select session.student_id, count(*) as visits
    from core.session as session
    cross join latest
    where session.site_id = $site_id
        and session.night > latest.night - interval 56 day
        and isodow(session.night) = isodow($at::timestamp)
        and abs(date_diff('minute', session.begins_at::time, ($at::timestamp)::time)) <= 75
    group by session.student_id
),

own as (
    select student_id
    from core.session
    where coach_id is not null and $coach_id is not null
    group by student_id
    having arg_max(coach_id, begins_at) = $coach_id
)

select student.student_id, coalesce(student.name, student.student_id) as shown_as, coalesce(student.minor, true) as minor,
    own.student_id is not null as own, coalesce(visits.visits, 0) as visits
from mart.student as student
left join visits on student.student_id = visits.student_id
left join own on student.student_id = own.student_id
order by own desc, visits desc, student.last_seen desc nulls last, shown_as
