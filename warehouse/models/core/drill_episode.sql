-- one row: one drill between two stretches of free shots, or a drill-free session split in two
with sessions as (
    from core.session semi join stage.night using (night)
),

shots as (
    from core.shot semi join stage.night using (night)
    where session_id is not null
),

drill_clubs as (
    select
        episode_id,
        club,
        count(*) as drill_shots,
        sum(count(*)) over (partition by episode_id) as all_drill_shots
    from shots
    where phase = 'drill'
    group by episode_id, club
    qualify row_number() over (partition by episode_id order by count(*) desc, club) = 1
),

drills as (
    select
        sessions.* exclude (kind),
        sessions.session_id || '-' || drill.position as episode_id,
        'drill' as kind,
        drill.* exclude (lesson_id, starts_at, ends_at),
        drill.starts_at as drill_starts_at,
        drill.ends_at as drill_ends_at,
        coalesce(drill_clubs.club, sessions.main_club) as club,
        coalesce(drill_clubs.all_drill_shots, 0) as drill_shots
    from stage.drill_interval as drill
    join sessions on drill.lesson_id = sessions.lesson_id and drill.starts_at::date = sessions.night
    left join drill_clubs on sessions.session_id || '-' || drill.position = drill_clubs.episode_id
),

free_practice as (
    select
        sessions.* exclude (kind),
        sessions.session_id || '-free' as episode_id,
        'free_practice' as kind,
        coalesce(split.split_at, sessions.begins_at) as drill_starts_at,
        1 as position,
        case when split.looks_drilled then 'looks like a drill nobody logged' end as timing,
        false as end_assumed,
        false as followed_by_drill,
        sessions.main_club as club,
        0 as drill_shots
    from sessions
    join stage.session_split as split using (session_id)
    where sessions.drills = 0
),

episodes as (
    from drills union all by name from free_practice
),

struck as (
    select session_id, segment, club, count(*) as struck,
        count(*) filter (mishit) as mishits
    from shots
    where phase = 'free' and set_aside_reason is null
    group by all
)

select
    episodes.night,
    episodes.episode_id,
    episodes.kind,
    episodes.drill_id,
    episodes.student_id,
    episodes.session_id,
    episodes.coach_id,
    episodes.bay_id,
    episodes.club,
    club.club_group,
    episodes.chosen_by,
    episodes.drill_starts_at as begins_at,
    episodes.drill_ends_at as ends_at,
    episodes.end_assumed,
    episodes.logged_starts_at as logged_begins_at,
    episodes.logged_ends_at,
    episodes.timing,
    episodes.timing_doubt,
    episodes.week,
    episodes.position,
    episodes.followed_by_drill,
    episodes.drill_shots,
    coalesce(pre.struck, 0) as pre_struck,
    coalesce(pre.mishits, 0) as pre_mishits,
    coalesce(post.struck, 0) as post_struck,
    coalesce(post.mishits, 0) as post_mishits
from episodes
left join stage.club as club using (club)
left join struck as pre
    on episodes.session_id = pre.session_id and episodes.club = pre.club and episodes.position - 1 = pre.segment
left join struck as post
    on episodes.session_id = post.session_id and episodes.club = post.club and episodes.position = post.segment
