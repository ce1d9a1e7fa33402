-- Before and after: the moments of attack angle and club path in a student's first and latest sessions with a club group.
-- The bay's offset is taken off each shot, with the hand's sign where the number is mirrored.
-- Parameters: student_id, club_group, path_mirrored, attack_mirrored.
with hand as (
    select case when handed = 'left' then -1 else 1 end as sign from mart.student where student_id = $student_id
),

offsets as (select bay_id, metric, from_date, bay_offset from core.bay_epoch),

struck as (
    select session_id, struck_at_local, night, bay_id, attack_angle, club_path
    from core.shot
    where student_id = $student_id and club_group = $club_group and usable
        and attack_angle is not null and club_path is not null
),

shots as (
    select
        struck.session_id, struck.struck_at_local,
        struck.attack_angle
        - (case when $attack_mirrored then hand.sign else 1 end) * coalesce(attack.bay_offset, 0) as attack_angle,
        struck.club_path
        - (case when $path_mirrored then hand.sign else 1 end) * coalesce(path.bay_offset, 0) as club_path
    from struck
    cross join hand
    asof left join (select * from offsets where metric = 'attack_angle') as attack
        on struck.bay_id = attack.bay_id and struck.night >= attack.from_date
    asof left join (select * from offsets where metric = 'club_path') as path
        on struck.bay_id = path.bay_id and struck.night >= path.from_date
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
