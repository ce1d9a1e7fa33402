-- Where a student's driver stands: medians over the latest five sessions, one row or none. Parameters: student_id.
with shots as (
    select session_id, struck_at, club_speed, attack_angle, dynamic_loft, carry, model_carry, standard_carry,
        carry_available, carry_gap
    from core.shot
    where student_id = $student_id and club_group = 'driver' and usable
        and club_speed is not null and attack_angle is not null
),

latest as (select session_id from shots group by session_id order by max(struck_at) desc limit 5)

select
    count(*) as shots, median(club_speed) as club_speed, median(attack_angle) as attack_angle,
    median(dynamic_loft) as dynamic_loft, median(carry) as carry, median(model_carry) as model_carry,
    median(standard_carry) as standard_carry,
    median(carry_available) as carry_available, median(carry_gap) as carry_gap
from shots
inner join latest on shots.session_id = latest.session_id
having count(*) >= 5
