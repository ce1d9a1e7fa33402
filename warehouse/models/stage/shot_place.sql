-- one row: one attributed shot with its phase, its stretch of the session and its episode
select
    shots.shot_number,
    shots.session_id,
    shots.in_drill,
    shots.mishit,
    shots.set_aside_reason,
    case
        when shots.in_drill then null
        when split.drills > 0 then coalesce(shots.drill_position, 0)
        when split.split_at is not null and shots.struck_at_local >= split.split_at then 1
        else 0
    end as segment,
    case
        -- a drill that runs past midnight is an episode of the night on which it began
        when shots.in_drill and shots.drill_night = shots.night then shots.session_id || '-' || shots.drill_position
        when split.drills = 0 then shots.session_id || '-free'
    end as episode_id
from stage.session_shot as shots
join stage.session_split as split using (session_id)
