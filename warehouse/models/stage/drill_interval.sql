-- one row: one drill of a lesson, with its place in the lesson, when the balls say it ran, and an end even where none
-- is known; what a trial's lot gave is chosen by draw, whoever was logged
with logged as (
    from stage.logged_drill
),

drawn as (
    from stage.drawn_drill
),

timing as (
    from stage.drill_timing
    where position is not null
),

read as (
    select
        logged.* exclude (starts_at, ends_at),
        logged.starts_at as logged_starts_at,
        case when not logged.end_assumed then logged.ends_at end as logged_ends_at,
        coalesce(timing.read_starts_at, logged.starts_at) as starts_at,
        coalesce(timing.read_ends_at, logged.ends_at) as ends_at,
        coalesce(timing.timing, case when logged.end_assumed then 'end not known' else 'as logged' end) as timing,
        timing.timing_doubt
    from logged
    left join timing using (lesson_id, drill_id, position)
)

select
    read.lesson_id,
    read.drill_id,
    case when drawn.lesson_id is not null then 'draw' else read.chosen_by end as chosen_by,
    read.starts_at,
    greatest(
        least(read.ends_at, coalesce(lead(read.starts_at) over (
            partition by read.lesson_id order by read.position
        ), 'infinity')),
        read.starts_at
    ) as ends_at,
    read.end_assumed,
    read.position,
    read.followed_by_drill,
    read.logged_starts_at,
    read.logged_ends_at,
    read.timing,
    read.timing_doubt
from read
left join drawn
    on read.lesson_id = drawn.lesson_id
    and read.drill_id = drawn.drill_id
    and read.logged_starts_at = drawn.starts_at
