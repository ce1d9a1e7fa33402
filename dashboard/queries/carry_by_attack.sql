-- One attack angle with its best loft, at the club speed asked for: between the two nearest of the table, in a straight
-- line. Parameters: club_speed.
with grid as (
    select club_speed, attack_angle, dynamic_loft, carry, carry_low, carry_high, carry_change from mart.carry_by_attack
),

ends as (
    select
        coalesce(max(club_speed) filter (club_speed <= $club_speed), min(club_speed)) as below,
        coalesce(min(club_speed) filter (club_speed >= $club_speed), max(club_speed)) as above
    from grid
),

weights as (
    select below as club_speed, case when above > below then (above - $club_speed) / (above - below) else 1 end as weight
    from ends
    union all
    select above, ($club_speed - below) / (above - below) from ends where above > below
)

select
    sum(weight * grid.club_speed) as club_speed, grid.attack_angle, sum(weight * dynamic_loft) as dynamic_loft,
    sum(weight * carry) as carry, sum(weight * carry_low) as carry_low, sum(weight * carry_high) as carry_high,
    sum(weight * carry_change) as carry_change
from grid
inner join weights on grid.club_speed = weights.club_speed
group by grid.attack_angle
order by grid.attack_angle
