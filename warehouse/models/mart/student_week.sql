-- one row: one student, week, club group and metric: usable free shots, bay offsets removed
with blocks as (
    select
        block.*,
        date_trunc('week', block.night)::date as week,
        block.centre - mirror_sign(block.metric, student.handed) * coalesce(epoch.bay_offset, 0) as level
    from core.block as block
    join raw.student as student using (student_id)
    asof left join core.bay_epoch as epoch
        on block.bay_id = epoch.bay_id and block.metric = epoch.metric and block.night >= epoch.from_date
    where block.night >= coalesce(getvariable('made_from'), '-infinity'::date)
)

select
    student_id,
    week,
    club_group,
    metric,
    sum(shots) as shots,
    -- whole billionths add up to the same in any order, so that the last digit is the same every night
    sum((shots * level * 1e9)::hugeint) / 1e9 / sum(shots) as centre,
    sqrt(
        sum(((shots - 1) * spread ** 2 * 1e9)::hugeint) / 1e9
        / nullif(sum(shots - 1) filter (spread is not null), 0)
    ) as spread
from blocks
group by student_id, week, club_group, metric
