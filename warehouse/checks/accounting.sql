-- blocking: for every file, rows read = rows loaded + rows rejected + exact duplicates
-- about: ops.export_file
select path as example
from ops.export_file
where rows_read <> rows_loaded + rows_rejected + rows_duplicate
