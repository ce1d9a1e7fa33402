-- One row refused on one night. Parameters: night.
select
    coalesce(file.original_path, rejected.path) as path,
    rejected.line,
    rejected.column_name,
    rejected.value,
    rejected.reason,
    rejected.detail || coalesce(' (' || rejected.place || ')', '') as detail
from ops.rejected_row as rejected
inner join ops.export_file as file on rejected.path = file.path
where file.night = $night
order by rejected.path, rejected.line
limit 1000
