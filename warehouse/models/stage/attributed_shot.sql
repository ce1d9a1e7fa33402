-- one row: one shot of the nights being built, with the lesson that holds it, its student, or why it has none
with shots as materialized (
    select
        row_number() over () as shot_number,
        raw_shot.* replace (
            raw_shot.struck_at - to_seconds(clock.ahead_seconds) as struck_at,
            raw_shot.struck_at_local - to_seconds(clock.ahead_seconds) as struck_at_local
        ),
        bay.site_id
    from raw.shot as raw_shot
    semi join stage.night using (night)
    join raw.bay as bay using (bay_id)
    join stage.bay_clock as clock using (bay_id)
),

bookings as (
    select
        lesson_id,
        student_id,
        bay_id,
        starts_at,
        ends_at,
        unnest(generate_series(starts_at::date, ends_at::date, interval 1 day))::date as night
    from raw.lesson
),

held as (
    select
        shots.shot_number,
        count(distinct bookings.student_id) as students,
        min(bookings.lesson_id) as any_lesson,
        min(bookings.lesson_id) filter (bookings.student_id = shots.student_id) as own_lesson
    from shots
    join bookings
        on shots.bay_id = bookings.bay_id
        and shots.night = bookings.night
        and shots.struck_at_local >= bookings.starts_at
        and shots.struck_at_local < bookings.ends_at
    group by shots.shot_number
),

placed as (
    select
        shots.*,
        case
            when held.own_lesson is not null then held.own_lesson
            when shots.student_id is null and held.students = 1 then held.any_lesson
        end as lesson_id,
        case
            when held.own_lesson is not null or (shots.student_id is null and held.students = 1) then null
            when shots.student_id is null and held.students > 1 then 'lessons overlap'
            when shots.student_id is null then 'no lesson and no student'
            when held.students > 0 then 'student contradicts lesson'
            when student.student_id is null then 'unknown student'
        end as unattributed_reason
    from shots
    left join held using (shot_number)
    left join raw.student as student on shots.student_id = student.student_id
)

select
    placed.* exclude (student_id),
    case when placed.unattributed_reason is null
        then coalesce(lesson.student_id, placed.student_id) end as student_id,
    lesson.coach_id
from placed
left join raw.lesson as lesson on placed.lesson_id = lesson.lesson_id
