-- one row: one shot inside a stretch that a person marked as not the student's own full swings
with stretches as (
    select
        stretch.bay_id,
        stretch.kind,
        stretch.starts_at,
        -- one left open closes with the lesson, or after an hour
        coalesce(stretch.ends_at, min(lesson.ends_at), stretch.starts_at + interval 1 hour) as ends_at
    from raw.set_aside as stretch
    left join raw.lesson as lesson
        on stretch.bay_id = lesson.bay_id
        and stretch.starts_at >= lesson.starts_at
        and stretch.starts_at < lesson.ends_at
    where stretch.kind <> 'moved to bay'
    group by stretch.bay_id, stretch.kind, stretch.starts_at, stretch.ends_at
)

select
    shots.shot_number,
    min(stretches.kind) as kind
from stage.attributed_shot as shots
join stretches
    on shots.bay_id = stretches.bay_id
    and shots.struck_at_local >= stretches.starts_at
    and shots.struck_at_local < stretches.ends_at
group by shots.shot_number
