-- one row: one drill of a lesson, with its place in the lesson and an end even where none was logged
with logged as (
    select
        drill_log.lesson_id,
        drill_log.drill_id,
        drill_log.chosen_by,
        drill_log.starts_at,
        drill_log.ends_at,
        lesson.ends_at as lesson_ends_at,
        lead(drill_log.starts_at) over lesson_order as next_starts_at,
        row_number() over lesson_order as position,
        count(*) over (partition by drill_log.lesson_id) as drills
    from raw.drill_log as drill_log
    join raw.lesson as lesson on drill_log.lesson_id = lesson.lesson_id
    window lesson_order as (partition by drill_log.lesson_id order by drill_log.starts_at, drill_log.drill_id)
)

select
    lesson_id,
    drill_id,
    chosen_by,
    starts_at,
    least(coalesce(ends_at, next_starts_at, lesson_ends_at), coalesce(next_starts_at, 'infinity')) as ends_at,
    ends_at is null as end_assumed,
    position::integer as position,
    position < drills as followed_by_drill
from logged
