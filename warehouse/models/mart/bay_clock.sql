-- one row: one bay, with how far its clock seems to run ahead of the lesson book
with lessons as (
    -- a clock that is ahead makes lessons seem to begin late and to end late
    select
        session.bay_id,
        (
            date_diff('second', lesson.starts_at, session.begins_at)
            - date_diff('second', session.ends_at, lesson.ends_at)
        ) / 2 as lean
    from core.session as session
    join raw.lesson as lesson on session.lesson_id = lesson.lesson_id
),

academy as (
    select median(lean) as lean
    from lessons
),

estimated as (
    select
        lessons.bay_id,
        count(*) as lessons,
        median(lessons.lean) - any_value(academy.lean) as ahead_seconds,
        -- of a median, under normality
        1.2533 * stddev_samp(lessons.lean) / sqrt(count(*)) as standard_error
    from lessons
    cross join academy
    group by lessons.bay_id
    having count(*) >= 10
)

select
    bay.bay_id,
    coalesce(estimated.lessons, 0) as lessons,
    estimated.ahead_seconds,
    clock.ahead_seconds as set_seconds,
    coalesce(abs(estimated.ahead_seconds) > greatest(60, 4 * estimated.standard_error), false) as out_of_step
from raw.bay as bay
join stage.bay_clock as clock using (bay_id)
left join estimated using (bay_id)
