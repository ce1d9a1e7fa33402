-- One check of the last run that found something.
select table_name, meaning, severity, faults, example, remedy
from ops.check_result
order by severity, table_name, meaning
