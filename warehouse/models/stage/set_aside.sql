-- one row: one shot inside a stretch that a person marked as not the student's own full swings
select
    shots.shot_number,
    min(stretch.kind) as kind
from stage.attributed_shot as shots
join raw.set_aside as stretch
    on shots.bay_id = stretch.bay_id
    and shots.struck_at_local >= stretch.starts_at
    and shots.struck_at_local < stretch.ends_at
group by shots.shot_number
