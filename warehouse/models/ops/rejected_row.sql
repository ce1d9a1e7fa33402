-- one row: one row of an export that could not be loaded, with its first fault
select
    path,
    line,
    column_name,
    value,
    reason,
    detail,
    place
from raw.rejected_row
