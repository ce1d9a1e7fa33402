-- one row: one bay and night, with what arrived and what became of it
with files as (
    select *
    from ops.export_file
),

nights as (
    select distinct night
    from files
),

arrived as (
    select
        night,
        bay_id,
        count(*) as files,
        sum(rows_loaded) filter (status = 'loaded') as shots,
        sum(rows_rejected) as rejected,
        sum(rows_duplicate) as duplicates,
        bool_or(status = 'loaded') as loaded,
        min(read_at) as read_at,
        string_agg(reason, '; ') filter (status = 'refused') as reason
    from files
    group by night, bay_id
),

booked as (
    select
        starts_at::date as night,
        bay_id,
        count(*) as lessons
    from raw.lesson
    group by all
),

unattributed as (
    select
        night,
        bay_id,
        count(*) filter (session_id is null) as unattributed
    from core.shot
    group by night, bay_id
)

select
    nights.night,
    bay.bay_id,
    bay.site_id,
    case
        when arrived.loaded then 'reported'
        when arrived.files > 0 then 'refused'
        when booked.lessons > 0 then 'silent'
        else 'no lessons'
    end as state,
    coalesce(arrived.files, 0) as files,
    coalesce(arrived.shots, 0) as shots,
    coalesce(arrived.rejected, 0) as rejected,
    coalesce(arrived.duplicates, 0) as duplicates,
    coalesce(unattributed.unattributed, 0) as unattributed,
    coalesce(booked.lessons, 0) as lessons,
    coalesce(arrived.loaded and arrived.read_at > first_publication.at + interval 1 day
        and arrived.read_at > nights.night + interval 2 day, false) as late,
    arrived.reason
from nights
cross join raw.bay as bay
cross join (select coalesce(min(published_at), 'infinity') as at from ops.publication) as first_publication
left join arrived using (night, bay_id)
left join booked using (night, bay_id)
left join unattributed using (night, bay_id)
