-- warning: a drill was logged without its begin in a lesson of the last seven nights; no block is cut from it
-- about: mart.drill_log_reading
-- remedy: fill in starts_at and ends_at in drill_log.csv: when the aid went down and when it came up
select lesson_id || ' ' || coalesce(drill_id, '') as example
from mart.drill_log_reading
where timing = 'without times' and night between (select max(night) - 7 from core.session)
    and (select max(night) from core.session)
