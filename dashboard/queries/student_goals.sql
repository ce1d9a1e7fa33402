-- One number of a student, with its change; first what stands furthest from a drill's aim, compared
-- with the other students. Parameters: student_id.
with changes as (select * from mart.student_change where student_id = $student_id),

seen as (
    select club_group, metric, count(distinct session_id) as sessions
    from core.first_block
    where student_id = $student_id
    group by club_group, metric
),

matters as (select metric, club_group, better from mart.metric),

gaps as (select student_id, drill_id, metric, club_group, gap from mart.drill_forecast where gap is not null),

-- The share of the other students that stand nearer, as percent_rank() gives it, for this student only.
placed as (
    select own.metric, own.club_group, coalesce(count(*) filter (every.gap < own.gap) / nullif(count(*) - 1, 0), 0) as place
    from gaps as own
    inner join gaps as every
        on own.drill_id = every.drill_id and own.metric = every.metric and own.club_group = every.club_group
    where own.student_id = $student_id
    group by own.drill_id, own.metric, own.club_group
),

shortfalls as (select metric, club_group, max(place) as shortfall from placed group by metric, club_group)

select
    seen.club_group, seen.metric, seen.sessions, shortfalls.shortfall, matters.better, changes.first_week,
    changes.latest_week, changes.first_sessions, changes.latest_sessions, changes.first_centre, changes.latest_centre,
    changes.change, changes.ci_low, changes.ci_high, changes.expected_change, changes.change_beyond_expected,
    changes.minimal_detectable_change, changes.beyond, changes.q_value, changes.distance_change
from seen
left join changes on seen.club_group = changes.club_group and seen.metric = changes.metric
left join shortfalls on seen.club_group = shortfalls.club_group and seen.metric = shortfalls.metric
left join matters on seen.club_group = matters.club_group and seen.metric = matters.metric
order by
    -- a number seen in few of the student's sessions is no goal to begin with
    (seen.sessions * 2 >= max(seen.sessions) over ()) desc,
    shortfalls.shortfall desc nulls last,
    (seen.club_group = 'driver' and seen.metric = 'attack_angle') desc,
    seen.sessions desc, seen.club_group, seen.metric
