-- One publication a row, the latest first.
select published_at, through_night, nights, shots, sessions, episodes, nights_built, warnings
from ops.publication
order by published_at desc
limit 14
