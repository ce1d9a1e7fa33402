-- One export of one night, what was not loaded first. Parameters: night.
select bay_id, coalesce(original_path, path) as path, status, reason, rows_read, rows_loaded, rows_rejected, rows_duplicate, read_at
from ops.export_file
where night = $night
order by status = 'loaded', bay_id, 2
