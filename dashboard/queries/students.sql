-- One student a row, the latest seen first; the name only with consent.
select
    student_id, coalesce(name, student_id) as shown_as, name, cohort, handed, handicap, age_group, coalesce(minor, true) as minor,
    age_group is null as age_unknown, sessions, last_seen
from mart.student
order by last_seen desc nulls last, shown_as
