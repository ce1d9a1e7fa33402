-- one row: one drill of the log with the moments that the balls tell, one without times, or a lesson whose pauses look
-- like a drill that nobody logged
with sessions as (
    select
        session_id,
        lesson_id,
        student_id,
        night
    from core.session
    where lesson_id is not null
),

timed as (
    select
        sessions.lesson_id,
        sessions.student_id,
        sessions.night,
        episode.drill_id,
        episode.logged_begins_at,
        episode.logged_ends_at,
        episode.begins_at,
        case when episode.timing <> 'end not known' then episode.ends_at end as ends_at,
        episode.timing,
        episode.timing_doubt,
        episode.drill_shots
    from core.drill_episode as episode
    join sessions using (session_id)
    where episode.timing is not null
),

untimed as (
    select
        log.lesson_id,
        lesson.student_id,
        lesson.starts_at::date as night,
        log.drill_id,
        log.ends_at as logged_ends_at,
        'without times' as timing
    from raw.drill_log as log
    join raw.lesson as lesson using (lesson_id)
    where log.starts_at is null
)

select
    night,
    lesson_id,
    student_id,
    drill_id,
    logged_begins_at,
    logged_ends_at,
    begins_at,
    ends_at,
    timing,
    timing_doubt,
    drill_shots
from (from timed union all by name from untimed)
