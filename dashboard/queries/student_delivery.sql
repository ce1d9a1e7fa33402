-- Before and after: the moments of attack angle and club path in a student's first and latest sessions with a club group.
-- Parameters: student_id, club_group.
with shots as (
    select session_id, struck_at_local, attack_angle, club_path
    from core.shot
    where student_id = $student_id and club_group = $club_group and usable
        and attack_angle is not null and club_path is not null
),

sessions as (
    select session_id, min(struck_at_local) as begins_at, row_number() over (order by min(struck_at_local)) as place,
        count(*) over () as sessions
    from shots
    group by session_id
),

placed as (
    select
        shots.attack_angle, shots.club_path, sessions.session_id, sessions.begins_at,
        case
            when sessions.place <= least(3, greatest(1, sessions.sessions // 2)) then 'before'
            when sessions.place > sessions.sessions - least(3, sessions.sessions // 2) then 'after'
        end as stretch
    from shots
    inner join sessions on shots.session_id = sessions.session_id
)

select
    stretch, count(*) as shots, count(distinct session_id) as sessions, min(begins_at)::date as from_date,
    max(begins_at)::date as to_date, avg(attack_angle) as attack_mean, avg(club_path) as path_mean,
    var_samp(attack_angle) as attack_variance, var_samp(club_path) as path_variance,
    covar_samp(attack_angle, club_path) as covariance
from placed
where stretch is not null
group by stretch
having count(*) >= 5
order by stretch desc
