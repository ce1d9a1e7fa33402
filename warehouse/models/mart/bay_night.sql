-- one row: one bay and night, with what arrived and what became of it; nights that nobody can have had are left out
with files as (
    select *
    from ops.export_file
    where night between getvariable('first_night') and getvariable('last_night')
),

-- nights with a file, and nights up to yesterday on which one was expected
nights as (
    select night
    from files
    union
    select night
    from mart.bay_expected
),

-- a rebuild reads every file again: when it arrived is the file's own time
arrivals as (
    select
        path,
        make_timestamp(modified_ns // 1000) as arrived_at
    from raw.export_file
    where latest
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
        min(arrived_at) as arrived_at,
        string_agg(reason, '; ') filter (status = 'refused') as reason
    from files
    left join arrivals using (path)
    group by night, bay_id
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
        when expected.night is not null then 'silent'
        else 'no lessons'
    end as state,
    coalesce(arrived.files, 0) as files,
    coalesce(arrived.shots, 0) as shots,
    coalesce(arrived.rejected, 0) as rejected,
    coalesce(arrived.duplicates, 0) as duplicates,
    coalesce(unattributed.unattributed, 0) as unattributed,
    coalesce(expected.lessons, 0) as lessons,
    expected.expected_by,
    coalesce(arrived.loaded and arrived.arrived_at > first_publication.at + interval 1 day
        and arrived.arrived_at > nights.night + interval 2 day, false) as late,
    arrived.reason
from nights
cross join raw.bay as bay
cross join (select coalesce(min(published_at), 'infinity') as at from ops.publication) as first_publication
left join arrived using (night, bay_id)
left join mart.bay_expected as expected using (night, bay_id)
left join unattributed using (night, bay_id)
