-- The seven days up to the last night: one row of counts.
with sessions as (select student_id, night, kind, begins_at, ends_at from core.session),

students as (select student_id, joined_on, last_seen from mart.student),

last_night as (select max(night) as night from sessions),

week as (
    select sessions.student_id, sessions.kind, date_diff('second', sessions.begins_at, sessions.ends_at) as seconds
    from sessions
    cross join last_night
    where sessions.night > last_night.night - 7
)

select
    (select night from last_night) as through_night,
    (select count(distinct student_id) from week) as active,
    (select count(*) from students, last_night where joined_on > night - 28) as joined,
    (select count(*) from students, last_night where last_seen <= night - 28) as not_seen,
    (select count(*) from week where kind = 'lesson') as lessons,
    (select count(*) from week where kind = 'practice') as practices,
    (select sum(seconds) / 3600.0 from week) as bay_hours
