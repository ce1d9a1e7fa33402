-- Before and after: the moments of attack angle and club path in a student's first and latest sessions begun with a club
-- group.
-- The bay's offset is taken off each shot, with the hand's sign where the number is mirrored.
-- Parameters: student_id, club_group, path_mirrored, attack_mirrored.
with hand as (
    select case when handed = 'left' then -1 else 1 end as sign from mart.student where student_id = $student_id
),

offsets as (select bay_id, metric, from_date, bay_offset from core.bay_epoch),

sessions as (
    select session_id, any_value(night) as night, row_number() over (order by min(begins_at)) as place,
        count(*) over () as sessions
    from core.first_block
    where student_id = $student_id and club_group = $club_group and metric in ('attack_angle', 'club_path')
    group by session_id
    having count(distinct metric) = 2
),

compared as (
    select session_id, night,
        case when place <= greatest(1, sessions // 2) then 'before' else 'after' end as stretch
    from sessions
    where place <= least(3, greatest(1, sessions // 2)) or place > sessions - least(3, sessions // 2)
),

-- The nights are named so that no other night's shots are read.
struck as (
    select shot.session_id, shot.night, shot.bay_id, shot.attack_angle, shot.club_path
    from core.shot as shot
    where shot.night in (select night from compared) and shot.night >= (select coalesce(min(night), 'infinity') from compared)
        and shot.session_id in (select session_id from compared)
        and shot.student_id = $student_id and shot.club_group = $club_group and shot.usable
        and shot.attack_angle is not null and shot.club_path is not null
),

placed as (
    select
        struck.session_id, struck.night, compared.stretch,
        struck.attack_angle
        - (case when $attack_mirrored then hand.sign else 1 end) * coalesce(attack.bay_offset, 0) as attack_angle,
        struck.club_path
        - (case when $path_mirrored then hand.sign else 1 end) * coalesce(path.bay_offset, 0) as club_path
    from struck
    inner join compared on struck.session_id = compared.session_id
    cross join hand
    asof left join (select * from offsets where metric = 'attack_angle') as attack
        on struck.bay_id = attack.bay_id and struck.night >= attack.from_date
    asof left join (select * from offsets where metric = 'club_path') as path
        on struck.bay_id = path.bay_id and struck.night >= path.from_date
)

select
    stretch, count(*) as shots, count(distinct session_id) as sessions, min(night) as from_date,
    max(night) as to_date, avg(attack_angle) as attack_mean, avg(club_path) as path_mean,
    var_samp(attack_angle) as attack_variance, var_samp(club_path) as path_variance,
    covar_samp(attack_angle, club_path) as covariance
from placed
group by stretch
having count(*) >= 5
order by stretch desc
