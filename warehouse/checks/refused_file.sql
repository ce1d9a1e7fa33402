-- warning: an export of the last seven nights was refused
-- about: ops.export_file
-- remedy: correct its profile or the file, then run the night again; `academy check-exports` tries it first
select path || ': ' || reason as example
from ops.export_file
where status = 'refused' and night > (select max(night) from ops.export_file) - 7
