-- one row: one drill of a lesson, with its place in the lesson and an end even where none was logged; what a trial's
-- lot gave is chosen by draw, whoever was logged
with logged as (
    from stage.logged_drill
),

drawn as (
    from stage.drawn_drill
)

select
    logged.lesson_id,
    logged.drill_id,
    case when drawn.lesson_id is not null then 'draw' else logged.chosen_by end as chosen_by,
    logged.starts_at,
    logged.ends_at,
    logged.end_assumed,
    logged.position,
    logged.followed_by_drill
from logged
left join drawn
    on logged.lesson_id = drawn.lesson_id
    and logged.drill_id = drawn.drill_id
    and logged.starts_at = drawn.starts_at
