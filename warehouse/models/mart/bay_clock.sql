-- one row: one bay, with how far its clock seems to run ahead of the lesson book
with booked as (
    select
        lesson_id,
        student_id,
        bay_id,
        starts_at,
        ends_at,
        case when max(ends_at) over earlier > starts_at - interval 10 minute then starts_at
            else starts_at - interval 10 minute end as looked_from,
        case when min(starts_at) over later < ends_at + interval 10 minute then ends_at
            else ends_at + interval 10 minute end as looked_until
    from raw.lesson
    window
        earlier as (partition by bay_id order by starts_at, lesson_id rows between unbounded preceding and 1 preceding),
        later as (partition by bay_id order by starts_at, lesson_id rows between 1 following and unbounded following)
),

-- a clock that is ahead makes lessons seem to begin late and to end late, and pushes shots over their edges: those
-- count too where nobody else was booked
lessons as (
    select
        booked.bay_id,
        (
            date_diff('second', booked.starts_at, min(shot.struck_at_local))
            - date_diff('second', max(shot.struck_at_local), booked.ends_at)
        ) / 2 as lean
    from booked
    join core.shot as shot
        on booked.bay_id = shot.bay_id
        and booked.starts_at::date = shot.night
        and (shot.lesson_id = booked.lesson_id or (
            shot.lesson_id is null
            and coalesce(shot.student_id, booked.student_id) = booked.student_id
            and shot.struck_at_local >= booked.looked_from
            and shot.struck_at_local < booked.looked_until
        ))
    group by booked.lesson_id, booked.bay_id, booked.starts_at, booked.ends_at
    having bool_or(shot.lesson_id = booked.lesson_id)
),

bays as (
    select
        bay_id,
        count(*) as lessons,
        median(lean) as lean,
        -- of a median, under normality
        1.2533 * stddev_samp(lean) / sqrt(count(*)) as standard_error
    from lessons
    group by bay_id
    having count(*) >= 10
),

-- the bay in the middle keeps the time: one that is off moves the middle little
estimated as (
    select
        bay_id,
        lessons,
        lean - (select median(lean) from bays) as ahead_seconds,
        standard_error
    from bays
)

select
    bay.bay_id,
    coalesce(estimated.lessons, 0) as lessons,
    estimated.ahead_seconds,
    clock.ahead_seconds as set_seconds,
    coalesce(abs(estimated.ahead_seconds) > greatest(60, 4 * estimated.standard_error), false) as out_of_step
from raw.bay as bay
join stage.bay_clock as clock using (bay_id)
left join estimated using (bay_id)
