-- one row: one day on which a student's or a bay's numbers may have jumped; blocks across it are not compared
with events as (
    select *
    from raw.event
),

of_students as (
    select
        id as student_id,
        null as bay_id,
        club,
        on_date,
        kind
    from events
    where scope = 'student'
),

of_bays as (
    select
        null as student_id,
        bay.bay_id,
        events.club,
        events.on_date,
        events.kind
    from events
    join raw.bay as bay
        on (events.scope = 'bay' and events.id = bay.bay_id) or (events.scope = 'site' and events.id = bay.site_id)
)

select distinct * from of_students
union all
select distinct * from of_bays
