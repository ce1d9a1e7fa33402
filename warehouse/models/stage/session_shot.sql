-- one row: one attributed shot with its session, and the drill that ran or had last begun
with shots as (
    select *
    from stage.attributed_shot
    where unattributed_reason is null
),

gaps as (
    select
        shot_number,
        student_id,
        bay_id,
        night,
        struck_at_local,
        path,
        line,
        coalesce(
            date_diff('second', lag(struck_at_local) over stay, struck_at_local)
            > 60 * getvariable('practice_gap_minutes'),
            true
        ) as begins
    from shots
    where lesson_id is null
    window stay as (partition by student_id, bay_id, night order by struck_at_local, path, line)
),

stays as (
    select
        shot_number,
        student_id,
        bay_id,
        night,
        struck_at_local,
        sum(begins::integer) over (
            partition by student_id, bay_id, night order by struck_at_local, path, line
        ) as stay
    from gaps
),

practice as (
    select
        shot_number,
        'practice ' || student_id || ' ' || bay_id || ' '
        || strftime(min(struck_at_local) over (partition by student_id, bay_id, night, stay), '%Y-%m-%d %H:%M:%S')
            as session_id
    from stays
),

placed as (
    select
        shots.*,
        -- a lesson past midnight is a session a night, so that each night can be built alone
        coalesce(
            shots.lesson_id || case when shots.night > lesson.starts_at::date then ' ' || shots.night else '' end,
            practice.session_id
        ) as session_id
    from shots
    left join raw.lesson as lesson on shots.lesson_id = lesson.lesson_id
    left join practice using (shot_number)
)

select
    placed.*,
    drill.position as drill_position,
    drill.starts_at::date as drill_night,
    drill.starts_at is not null and placed.struck_at_local < drill.ends_at as in_drill,
    set_aside.kind as set_aside_reason,
    placed.ball_speed < getvariable('mishit_share')
    * median(placed.ball_speed) over (partition by placed.session_id, placed.club) as mishit
from placed
asof left join stage.drill_interval as drill
    on placed.lesson_id = drill.lesson_id and placed.struck_at_local >= drill.starts_at
left join stage.set_aside as set_aside
    on placed.shot_number = set_aside.shot_number
