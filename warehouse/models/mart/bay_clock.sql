-- one row: one bay, with how far its clock seems to run ahead of the lesson book
with lessons as (
    select
        session.bay_id,
        date_diff('second', lesson.starts_at, session.begins_at) as first_shot_after,
        date_diff('second', session.ends_at, lesson.ends_at) as last_shot_before
    from core.session as session
    join raw.lesson as lesson on session.lesson_id = lesson.lesson_id
),

bays as (
    select
        bay_id,
        count(*) as lessons,
        median(first_shot_after) as first_shot_after,
        median(last_shot_before) as last_shot_before
    from lessons
    group by bay_id
),

academy as (
    select
        median(first_shot_after) as first_shot_after,
        median(last_shot_before) as last_shot_before
    from lessons
),

-- a clock that is ahead makes lessons seem to begin late and to end late
estimated as (
    select
        bays.bay_id,
        bays.lessons,
        case when bays.lessons >= 10 then (
            bays.first_shot_after - academy.first_shot_after - bays.last_shot_before + academy.last_shot_before
        ) / 2 end as ahead_seconds
    from bays
    cross join academy
)

select
    bay.bay_id,
    coalesce(estimated.lessons, 0) as lessons,
    estimated.ahead_seconds,
    clock.ahead_seconds as set_seconds,
    coalesce(abs(estimated.ahead_seconds) > 60, false) as out_of_step
from raw.bay as bay
join stage.bay_clock as clock using (bay_id)
left join estimated using (bay_id)
