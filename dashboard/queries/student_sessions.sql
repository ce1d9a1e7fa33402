-- One session's first block with the student's most used club of the group. Parameters: student_id, club_group, metric.
with blocks as (
    select session_id, night, begins_at, club, shots, centre, variance, spread, coached, drilled, bay_id
    from core.first_block
    where student_id = $student_id and club_group = $club_group and metric = $metric
),

most_used as (select club from blocks group by club order by count(*) desc, club limit 1)

select
    blocks.session_id, blocks.night, blocks.begins_at, blocks.club, blocks.shots, blocks.centre, blocks.spread,
    blocks.centre - 1.96 * sqrt(blocks.variance) as centre_low,
    blocks.centre + 1.96 * sqrt(blocks.variance) as centre_high,
    blocks.coached, blocks.drilled, blocks.bay_id
from blocks
inner join most_used on blocks.club = most_used.club
order by blocks.begins_at
