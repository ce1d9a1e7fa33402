-- one row: one bay and night on which its export is expected, from the first night that any came through yesterday
with files as (
    select
        night,
        bay_id,
        bool_or(status = 'loaded') as loaded
    from ops.export_file
    where night between getvariable('first_night') and getvariable('last_night')
    group by all
),

span as (
    select
        min(night) as first_night,
        greatest(max(night), getvariable('today') - 1) as last_night
    from files
),

booked as (
    select
        starts_at::date as night,
        bay_id,
        count(*) as lessons
    from raw.lesson
    cross join span
    where starts_at::date between span.first_night and span.last_night
    group by all
),

-- a habit: the bay reported on three of the same four weekdays before
later as (
    select
        bay_id,
        unnest([night + 7, night + 14, night + 21, night + 28]) as night
    from files
    where loaded
),

usual as (
    select
        night,
        bay_id
    from later
    group by night, bay_id
    having count(*) >= 3
)

select
    night,
    bay_id,
    coalesce(booked.lessons, 0) as lessons,
    case when booked.lessons > 0 then 'lessons' else 'weekday' end as expected_by
from booked
full join usual using (night, bay_id)
semi join raw.bay using (bay_id)
cross join span
where night between span.first_night and span.last_night
