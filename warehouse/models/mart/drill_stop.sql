-- one row: one drill and reason for which it was stopped
select
    drill_id,
    kind,
    count(*) as stops,
    max("at")::date as last_on
from raw.stop
group by drill_id, kind
