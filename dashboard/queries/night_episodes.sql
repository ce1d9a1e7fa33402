-- One drill of a night, and whether it counts for the drill's aim; no outcomes. Parameters: night, coach_id (null: all),
-- session_id (null: all).
with episodes as (
    select *
    from core.drill_episode
    where kind = 'drill' and night = $night
        and ($coach_id is null or coach_id = $coach_id) and ($session_id is null or session_id = $session_id)
),

-- The night's own rows first: else every row of the table would be joined.
metrics as (
    select episode_id, metric, pre_shots, post_shots, excluded_reason
    from core.episode_metric
    where episode_id in (select episode_id from episodes)
),

numbers as (
    select episode_id, count(*) as numbers, count(*) filter (where excluded_reason is null) as counted,
        max(pre_shots) as pre_balls, max(post_shots) as post_balls,
        -- A drill without an aim counts for whatever was measured: only where nothing counts is there a reason.
        case when count(*) > count(excluded_reason) then null else
            coalesce(mode(excluded_reason) filter (where excluded_reason <> 'not measured'), max(excluded_reason))
        end as why_none_counts
    from metrics
    group by episode_id
),

students as (select student_id, coalesce(name, student_id) as shown_as from mart.student)

select
    episodes.episode_id, episodes.night, episodes.session_id, episodes.student_id, students.shown_as, episodes.bay_id,
    episodes.drill_id, drill.name, drill.aim_metric, episodes.club_group, episodes.begins_at, episodes.ends_at,
    episodes.end_assumed, episodes.logged_begins_at, episodes.logged_ends_at, episodes.timing, episodes.drill_shots,
    aim.metric is not null and aim.excluded_reason is distinct from 'not measured'
        and (aim.pre_shots + aim.post_shots > 0 or numbers.pre_balls + numbers.post_balls = 0) as aim_measured, 
    aim.pre_shots, aim.post_shots, numbers.pre_balls, numbers.post_balls,
    case when drill.aim_metric is null then numbers.why_none_counts else aim.excluded_reason end as excluded_reason,
    coalesce(numbers.numbers, 0) as numbers, coalesce(numbers.counted, 0) as counted
from episodes
left join mart.drill as drill on episodes.drill_id = drill.drill_id
left join students on episodes.student_id = students.student_id
left join numbers on episodes.episode_id = numbers.episode_id
left join metrics as aim on episodes.episode_id = aim.episode_id and drill.aim_metric = aim.metric
order by episodes.begins_at, students.shown_as
