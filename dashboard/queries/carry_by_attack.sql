-- One attack angle with its best loft, at the club speed on the grid nearest to the one asked for. Parameters: club_speed.
with grid as (select * from mart.carry_by_delivery where best_loft),

nearest as (select club_speed from grid group by club_speed order by abs(club_speed - $club_speed), club_speed limit 1)

select grid.club_speed, grid.attack_angle, grid.dynamic_loft, grid.ball_speed, grid.launch_angle, grid.spin_rate,
    grid.carry
from grid
inner join nearest on grid.club_speed = nearest.club_speed
order by grid.attack_angle
