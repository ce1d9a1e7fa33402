-- One attack angle with its best loft, at the club speed nearest to the one asked for. Parameters: club_speed.
with grid as (
    select club_speed, attack_angle, dynamic_loft, carry, carry_low, carry_high, carry_change from mart.carry_by_attack
),

nearest as (select club_speed from grid group by club_speed order by abs(club_speed - $club_speed), club_speed limit 1)

select grid.club_speed, grid.attack_angle, grid.dynamic_loft, grid.carry, grid.carry_low, grid.carry_high,
    grid.carry_change
from grid
inner join nearest on grid.club_speed = nearest.club_speed
order by grid.attack_angle
