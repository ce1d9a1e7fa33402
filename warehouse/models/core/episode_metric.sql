-- one row: one episode and metric, with the blocks before, after and at the start of the next session
with episodes as (select episode.*,
        coalesce(student.consent_evidence, student.consent) = 'yes' as in_evidence,
        mirror_sign(metric.metric, student.handed) * coalesce(epoch.bay_offset, 0) as bay_offset,
        metric.metric
    from core.drill_episode as episode
    join raw.student as student using (student_id)
    cross join stage.metric_name as metric
    asof left join core.bay_epoch as epoch
        on episode.bay_id = epoch.bay_id and metric.metric = epoch.metric and episode.night >= epoch.from_date
    where episode.night >= coalesce(getvariable('made_from'), '-infinity'::date)
),

first_of_day as (
    select *
    from core.first_block
    where night >= coalesce(getvariable('made_from'), '-infinity'::date)
    qualify row_number() over (partition by student_id, club, metric, night order by begins_at, session_id) = 1
),

followed as (
    select episodes.episode_id, next.*
    from episodes
    asof join first_of_day as next
        on episodes.student_id = next.student_id and episodes.club = next.club
        and episodes.metric = next.metric and episodes.night < next.night
    where
        not episodes.followed_by_drill
        and date_diff('day', episodes.night, next.night) <= getvariable('retention_days')
        and not exists (
            from core.interruption as interruption
            where
                interruption.on_date between episodes.night and next.night
                and coalesce(interruption.club, episodes.club) = episodes.club
                and (
                    interruption.student_id = episodes.student_id
                    or interruption.bay_id in (episodes.bay_id, next.bay_id)
                )
        )
),

-- What a bay gave that night for anybody: a number that none of its balls has was not measured.
measured as (
    select distinct bay_id, night, metric from core.block
    where night >= coalesce(getvariable('made_from'), '-infinity'::date)
),

reporting as (select distinct bay_id, night from measured),
-- where most lessons without a drill look drilled, their pauses say nothing
unlogged as (
    select coalesce(avg((timing is not null)::integer), 0) <= 0.5 as held
    from core.drill_episode where kind = 'free_practice' and coach_id is not null
),

interrupted as (
    select distinct episode.episode_id
    from core.drill_episode as episode
    join core.interruption as interruption
        on episode.night = interruption.on_date
        and coalesce(interruption.club, episode.club) = episode.club
        and (interruption.student_id = episode.student_id or interruption.bay_id = episode.bay_id)
)

select
    episodes.episode_id, episodes.metric,
    coalesce(pre.shots, 0) as pre_shots,
    pre.centre - episodes.bay_offset as pre_centre,
    pre.variance as pre_variance, pre.spread as pre_spread,
    coalesce(post.shots, 0) as post_shots,
    post.centre - episodes.bay_offset as post_centre,
    post.variance as post_variance, post.spread as post_spread,
    followed.session_id as next_session_id,
    followed.bay_id as next_bay_id,
    date_diff('day', episodes.night, followed.night)::integer as next_days,
    followed.shots as next_shots, followed.centre as next_centre,
    followed.variance as next_variance, followed.spread as next_spread,
    case
        when not episodes.in_evidence then 'no consent'
        when interrupted.episode_id is not null then 'event between'
        when reporting.bay_id is not null and measured.bay_id is null then 'not measured'
        when episodes.timing = 'end not known' then 'end not known'
        when unlogged.held and episodes.timing = 'looks like a drill nobody logged' then 'drill not logged'
        when least(coalesce(pre.shots, 0), coalesce(post.shots, 0)) < getvariable('min_block_shots')
            then 'too few shots'
    end as excluded_reason
from episodes
left join core.block as pre
    on episodes.session_id = pre.session_id and episodes.club = pre.club and episodes.metric = pre.metric
    and pre.segment = episodes.position - 1
left join core.block as post
    on episodes.session_id = post.session_id and episodes.club = post.club and episodes.metric = post.metric
    and post.segment = episodes.position
left join followed on episodes.episode_id = followed.episode_id and episodes.metric = followed.metric
left join interrupted on episodes.episode_id = interrupted.episode_id
left join reporting on episodes.bay_id = reporting.bay_id and episodes.night = reporting.night
left join measured
    on episodes.bay_id = measured.bay_id and episodes.night = measured.night and episodes.metric = measured.metric
cross join unlogged
-- A night's episodes stand together, so that the morning's reading of one night is quick.
order by episodes.night, episodes.episode_id, episodes.metric
