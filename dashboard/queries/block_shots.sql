-- One shot of a session with a club, in order. Parameters: session_id, club.
select path, line, struck_at_local, phase, mishit, ball_speed, carry
from core.shot
where session_id = $session_id and club = $club
order by struck_at_local, path, line
