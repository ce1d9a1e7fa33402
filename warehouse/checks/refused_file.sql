-- warning: an export of the last seven nights was refused
-- about: ops.export_file
select path || ': ' || reason as example
from ops.export_file
where status = 'refused' and night > (select max(night) from ops.export_file) - 7
