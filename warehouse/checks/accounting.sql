-- blocking: for every file, rows read = loaded + rejected + duplicates + set aside
-- about: ops.export_file
-- remedy: run `academy nightly --rebuild`; if it stays, the program is at fault
select path as example
from ops.export_file
where rows_read <> rows_loaded + rows_rejected + rows_duplicate + rows_set_aside
