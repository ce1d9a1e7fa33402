-- warning: a drill was logged in a lesson of the last seven nights that has no shots
-- about: core.session
-- remedy: correct its lesson or its bay in lessons.csv, or have the bay's export of that night brought in late
select log.lesson_id as example
from raw.drill_log as log
join raw.lesson as lesson using (lesson_id)
anti join core.session as session on log.lesson_id = session.session_id
where lesson.starts_at::date between (select max(night) - 7 from core.session) and (select max(night) from core.session)
