-- one row: one export, as last read
select
    night,
    bay_id,
    path,
    content_hash,
    status,
    reason,
    rows_read,
    rows_loaded,
    rows_rejected,
    rows_duplicate,
    read_at,
    original_path,
    rows_passed_over
from raw.export_file
where latest
