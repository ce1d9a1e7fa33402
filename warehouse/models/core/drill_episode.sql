-- one row: one drill between two stretches of free shots, or a drill-free session split in two
with sessions as (
    select *
    from core.session
    semi join stage.night using (night)
),

shots as (
    select *
    from core.shot
    semi join stage.night using (night)
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
        drill.drill_id,
        drill.chosen_by,
        drill.starts_at as drill_starts_at,
        drill.ends_at as drill_ends_at,
        drill.end_assumed,
        drill.position,
        drill.followed_by_drill,
        coalesce(drill_clubs.club, sessions.main_club) as club,
        coalesce(drill_clubs.all_drill_shots, 0) as drill_shots
    from stage.drill_interval as drill
    join sessions on drill.lesson_id = sessions.lesson_id
    left join drill_clubs on sessions.session_id || '-' || drill.position = drill_clubs.episode_id
),

free_practice as (
    select
        sessions.* exclude (kind),
        sessions.session_id || '-free' as episode_id,
        'free_practice' as kind,
        null as drill_id,
        null as chosen_by,
        sessions.begins_at as drill_starts_at,
        null as drill_ends_at,
        false as end_assumed,
        1 as position,
        false as followed_by_drill,
        sessions.main_club as club,
        0 as drill_shots
    from sessions
    where sessions.drills = 0
),

episodes as (
    select * from drills
    union all by name
    select * from free_practice
),

struck as (
    select
        session_id,
        segment,
        club,
        count(*) as struck,
        count(*) filter (mishit) as mishits
    from shots
    where phase = 'free' and set_aside_reason is null
    group by session_id, segment, club
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
