-- one row: one export, as last read
with files as (
    select *
    from raw.export_file
    where latest
)

select
    files.night,
    case
        when path.shown is null or files.bay_id in (select bay_id from raw.bay) then files.bay_id
        else '(name)'
    end as bay_id,
    coalesce(path.shown, files.path) as path,
    files.content_hash,
    files.status,
    coalesce(message.shown, files.reason) as reason,
    files.rows_read,
    files.rows_loaded,
    files.rows_rejected,
    files.rows_duplicate,
    files.rows_set_aside,
    files.read_at,
    coalesce(original.shown, files.original_path) as original_path,
    files.rows_passed_over
from files
left join stage.shown_path as path on files.path = path.said
left join stage.shown_path as original on files.original_path = original.said
left join stage.shown_message as message on files.reason = message.said
