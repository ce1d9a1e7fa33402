-- one row: one drill of a lesson, of the log, the notebook or both, with its place, and an end where none was said
with entries as (
    select
        coalesce(entry.lesson_id, lesson.lesson_id) as lesson_id,
        entry.drill_id,
        entry.starts_at,
        entry.ends_at,
        entry.chosen_by
    from raw.entered_drill as entry
    left join raw.lesson as lesson
        on entry.student_id = lesson.student_id
        and entry.bay_id = lesson.bay_id
        and entry.starts_at >= lesson.starts_at
        and entry.starts_at < lesson.ends_at
),

-- the log and the notebook may hold the same drill: it counts once
drills as (
    select
        lesson_id,
        drill_id,
        starts_at,
        min(ends_at) as said_ends_at,
        min(chosen_by) as chosen_by
    from (
        select lesson_id, drill_id, starts_at, ends_at, chosen_by
        from raw.drill_log
        union all
        from entries
    )
    where lesson_id is not null and starts_at is not null
    group by lesson_id, drill_id, starts_at
),

placed as (
    select
        drills.*,
        lesson.student_id,
        lesson.bay_id,
        lesson.ends_at as lesson_ends_at,
        lead(drills.starts_at) over lesson_order as next_starts_at,
        row_number() over lesson_order as position,
        count(*) over (partition by drills.lesson_id) as drills_of_lesson
    from drills
    join raw.lesson as lesson on drills.lesson_id = lesson.lesson_id
    window lesson_order as (partition by drills.lesson_id order by drills.starts_at, drills.drill_id)
)

select
    lesson_id,
    student_id,
    bay_id,
    drill_id,
    chosen_by,
    starts_at,
    least(coalesce(said_ends_at, next_starts_at, lesson_ends_at), coalesce(next_starts_at, 'infinity')) as ends_at,
    said_ends_at is null as end_assumed,
    position::integer as position,
    position < drills_of_lesson as followed_by_drill
from placed
