-- One place in a drill's strip of responses, or in the strip that luck alone would show.
-- Parameters: drill_id, metric, club_group.
select
    response.strip, response.place, response.student_id,
    coalesce(student.name, response.student_id) as shown_as,
    response.episodes, response.response, response.response_low, response.response_high, response.probability,
    response.responder
from mart.student_response as response
left join mart.student as student on response.student_id = student.student_id
where response.drill_id = $drill_id
    and response.metric = $metric
    and response.club_group = $club_group
    and response.response is not null
order by response.strip, response.response desc, response.place
