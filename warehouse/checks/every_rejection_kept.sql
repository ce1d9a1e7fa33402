-- blocking: every rejected row of a file stands in ops.rejected_row once
-- about: ops.rejected_row
-- remedy: run `academy nightly --rebuild`; if it stays, the program is at fault
select file.path as example
from raw.export_file as file
left join stage.shown_path as shown on file.path = shown.said
left join (select path, count(*) as kept from ops.rejected_row group by path) as rejected
    on coalesce(shown.shown, file.path) = rejected.path
where file.latest and file.rows_rejected <> coalesce(rejected.kept, 0)
