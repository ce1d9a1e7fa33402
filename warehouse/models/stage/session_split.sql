-- one row: one session; its main club and, without drills, the moment that splits it
with drills as (
    select
        lesson_id,
        count(*) as drills
    from (
        select lesson_id from stage.drill_interval
        union all
        -- a drill without times is in no block, but its lesson is no free practice
        select lesson_id from raw.drill_log where starts_at is null
    )
    group by lesson_id
),

unlogged as (
    select
        lesson_id,
        read_starts_at
    from stage.drill_timing
    where position is null
),

usable as (
    select
        session_id,
        club,
        struck_at_local,
        path,
        line
    from stage.session_shot
    where not mishit and not in_drill and set_aside_reason is null
),

clubs as (
    select
        session_id,
        club,
        count(*) as shots
    from usable
    group by session_id, club
),

main_clubs as (
    select
        session_id,
        club as main_club
    from clubs
    qualify row_number() over (partition by session_id order by shots desc, club) = 1
),

sessions as (
    select
        session_id,
        any_value(lesson_id) as lesson_id
    from stage.session_shot
    group by session_id
),

splits as (
    select
        sessions.session_id,
        sessions.lesson_id,
        main_clubs.main_club,
        coalesce(drills.drills, 0) as drills,
        -- fixed by the session's name, so that a night and a rebuild agree
        (
            getvariable('split_from')
            + md5_number_lower(sessions.session_id) % (getvariable('split_to') - getvariable('split_from') + 1)
        )::integer as split_after
    from sessions
    left join main_clubs using (session_id)
    left join drills using (lesson_id)
),

moments as (
    select
        splits.session_id,
        usable.struck_at_local as split_at
    from usable
    join splits on usable.session_id = splits.session_id and usable.club = splits.main_club
    where splits.drills = 0
    qualify splits.split_after + 1 = row_number() over (
        partition by usable.session_id order by usable.struck_at_local, usable.path, usable.line
    )
)

select
    splits.session_id,
    splits.main_club,
    splits.drills,
    case when splits.drills = 0 then splits.split_after end as split_after,
    case when splits.drills = 0 then coalesce(unlogged.read_starts_at, moments.split_at) end as split_at,
    splits.drills = 0 and unlogged.lesson_id is not null as looks_drilled
from splits
left join moments using (session_id)
left join unlogged on splits.lesson_id = unlogged.lesson_id
