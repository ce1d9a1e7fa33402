-- One check of the last run that found something.
select table_name, check_name, severity, faults, example
from ops.check_result
order by severity, table_name, check_name
