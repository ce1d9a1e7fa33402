-- One shot of a session in time, with every number as the bay gave it. Parameters: session_id.
select
    row_number() over (order by struck_at, line) as ball, struck_at_local, club, club_group, phase, episode_id, usable,
    mishit, set_aside_reason,
    date_diff('second', lag(struck_at) over (order by struck_at, line), struck_at) as seconds_before,
    club_speed, attack_angle, club_path, face_angle, dynamic_loft, launch_direction, launch_angle, ball_speed,
    spin_rate, spin_axis, carry, "lateral", impact_toe, impact_high, face_to_path, spin_loft, smash_factor, carry_gap
from core.shot
where session_id = $session_id
order by ball
