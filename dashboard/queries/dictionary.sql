-- One column of one published table.
select table_name, column_name, type, unit, limits, description
from mart.dictionary
order by table_name, column_name
