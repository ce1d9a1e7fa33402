-- one row: one session's first block with one club, for one metric, bay offset removed; made_from: see build.MADE_FROM
with blocks as (
    select *
    from core.block
    where segment = 0 and night >= coalesce(getvariable('made_from'), '-infinity'::date)
)

select
    blocks.session_id,
    blocks.student_id,
    blocks.bay_id,
    blocks.night,
    session.week,
    session.begins_at,
    session.coach_id is not null as coached,
    session.drills > 0 as drilled,
    blocks.club,
    blocks.club_group,
    blocks.metric,
    blocks.shots,
    blocks.centre - mirror_sign(blocks.metric, student.handed) * coalesce(epoch.bay_offset, 0) as centre,
    blocks.variance,
    blocks.spread
from blocks
join core.session as session using (session_id)
join raw.student as student on blocks.student_id = student.student_id
asof left join core.bay_epoch as epoch
    on blocks.bay_id = epoch.bay_id and blocks.metric = epoch.metric and blocks.night >= epoch.from_date
where
    blocks.shots >= getvariable('min_block_shots')
    -- a stay that goes on past midnight is a session a night: the second half begins no stay, and is no next session
    and not exists (
        select 1
        from core.session as evening
        where
            evening.student_id = session.student_id
            and evening.bay_id = session.bay_id
            and evening.night = session.night - 1
            and evening.lesson_id is not distinct from session.lesson_id
            and (
                session.lesson_id is not null
                or session.begins_at - evening.ends_at <= to_minutes(getvariable('practice_gap_minutes'))
            )
    )
-- A student's rows stand together, so that a page reads a hundredth of the table.
order by blocks.student_id, session.begins_at, blocks.club, blocks.metric
