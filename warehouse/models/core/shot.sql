-- one row: one struck ball; signed numbers mirrored for left-handers
with attributed as (
    select *
    from stage.attributed_shot
),

handed as (
    select
        attributed.*,
        case when student.handed = 'left' and not coalesce(attributed.already_turned, false) then -1 else 1 end as side
    from attributed
    left join raw.student as student using (student_id)
),

mirrored as (
    select
        columns(lambda name: not list_contains(getvariable('mirrored_metrics'), name)),
        side * columns(lambda name: list_contains(getvariable('mirrored_metrics'), name))
    from handed
),

derived as (
    select
        mirrored.*,
        face_angle - club_path as face_to_path,
        dynamic_loft - attack_angle as spin_loft,
        ball_speed / club_speed as smash_factor,
        flight.air_density,
        flight.model_carry,
        flight.model_spin,
        flight.standard_carry,
        flight.carry_available,
        flight.carry_available - flight.model_carry as carry_gap
    from mirrored
    join stage.shot_flight as flight using (shot_number)
)

select
    derived.night,
    coalesce(shown.shown, derived.path) as path,
    derived.line,
    derived.bay_id,
    derived.site_id,
    derived.struck_at,
    derived.struck_at_local,
    derived.lesson_id,
    placed.session_id,
    derived.student_id,
    derived.unattributed_reason,
    case when placed.in_drill then 'drill' when placed.session_id is not null then 'free' end as phase,
    placed.segment,
    placed.episode_id,
    derived.club,
    club.club_group,
    coalesce(placed.mishit, false) as mishit,
    placed.session_id is not null and not placed.in_drill and not placed.mishit
    and placed.set_aside_reason is null and faulty.bay_id is null as usable,
    coalesce(placed.set_aside_reason, case when faulty.bay_id is not null then 'numbers that cannot be' end)
    as set_aside_reason,
    derived.* exclude (
        shot_number, night, path, line, bay_id, site_id, struck_at, struck_at_local, lesson_id, student_id, coach_id,
        unattributed_reason, club, side, already_turned, air_temperature, air_pressure, air_humidity
    ) replace (
        within_limits('face_to_path', derived.face_to_path) as face_to_path,
        within_limits('spin_loft', derived.spin_loft) as spin_loft,
        within_limits('smash_factor', derived.smash_factor) as smash_factor,
        within_limits('carry_gap', derived.carry_gap) as carry_gap
    )
from derived
left join stage.shot_place as placed using (shot_number)
left join (select distinct night, bay_id from stage.bay_fault) as faulty
    on derived.night = faulty.night and derived.bay_id = faulty.bay_id
left join stage.shown_path as shown on derived.path = shown.said
join stage.club as club using (club)
