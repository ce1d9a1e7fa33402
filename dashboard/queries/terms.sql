-- The term of the last night, then the one before it.
select name, from_date, to_date, source, current
from mart.term
order by current desc
