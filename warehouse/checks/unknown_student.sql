-- warning: an export names students who are not in students.csv, so their shots belong to nobody
-- about: core.shot
-- remedy: correct the ids in the file or where they are mapped in its profile, or add the students to students.csv
select
    'bay ' || shot.bay_id || ', ' || coalesce(path.shown, shot.path) || ': ' || count(*) || ' shots of '
    || count(distinct shot.student_id) || ' ids, the first on line ' || min(shot.line) as example
from raw.shot as shot
anti join raw.student as student on shot.student_id = student.student_id
left join stage.shown_path as path on shot.path = path.said
where shot.student_id is not null
    and (shot.night in (select night from stage.night) or shot.night > (select max(night) from core.session) - 7)
group by shot.bay_id, coalesce(path.shown, shot.path)
