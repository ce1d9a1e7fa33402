-- one row: one student's stay in one bay, a lesson or practice
with shots as (
    select *
    from stage.session_shot
),

stays as (
    select
        session_id,
        any_value(night) as night,
        any_value(lesson_id) as lesson_id,
        any_value(student_id) as student_id,
        any_value(coach_id) as coach_id,
        any_value(bay_id) as bay_id,
        any_value(site_id) as site_id,
        min(struck_at_local) as begins_at,
        max(struck_at_local) as ends_at,
        count(*) as shots,
        count(*) filter (not mishit and not in_drill and set_aside_reason is null) as usable_shots,
        count(*) filter (mishit) as mishits
    from shots
    group by session_id
)

select
    stays.night,
    stays.session_id,
    case when stays.lesson_id is null then 'practice' else 'lesson' end as kind,
    stays.lesson_id,
    stays.student_id,
    stays.coach_id,
    stays.bay_id,
    stays.site_id,
    stays.begins_at,
    stays.ends_at,
    date_trunc('week', stays.night)::date as week,
    stays.shots,
    stays.usable_shots,
    stays.mishits,
    split.drills,
    split.main_club,
    split.split_after
from stays
join stage.session_split as split using (session_id)
