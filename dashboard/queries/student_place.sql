-- Where a student's driver stands: medians over the latest five sessions that began with the driver, one row or none.
-- Parameters: student_id.
with latest as (
    select session_id, any_value(night) as night
    from core.first_block
    where student_id = $student_id and club_group = 'driver' and metric in ('club_speed', 'attack_angle')
    group by session_id
    having count(distinct metric) = 2
    order by max(begins_at) desc
    limit 5
),

-- The nights are named so that no other night's shots are read.
shots as (
    select club_speed, attack_angle, dynamic_loft, carry, model_carry, standard_carry, carry_available, carry_gap
    from core.shot
    where night in (select night from latest) and night >= (select coalesce(min(night), 'infinity') from latest)
        and session_id in (select session_id from latest)
        and student_id = $student_id and club_group = 'driver' and usable
        and club_speed is not null and attack_angle is not null
)

select
    count(*) as shots, median(club_speed) as club_speed, median(attack_angle) as attack_angle,
    median(dynamic_loft) as dynamic_loft, median(carry) as carry, median(model_carry) as model_carry,
    median(standard_carry) as standard_carry,
    median(carry_available) as carry_available, median(carry_gap) as carry_gap
from shots
having count(*) >= 5
