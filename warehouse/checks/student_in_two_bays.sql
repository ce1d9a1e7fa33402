-- warning: a student hit in two bays by turns within a minute, so one of the bays has somebody else's shots
-- about: core.shot
-- remedy: look which bay's file or student id is wrong; `academy withdraw-export` takes a wrong file back
with shots as (
    select
        night,
        student_id,
        bay_id,
        struck_at,
        lag(bay_id) over by_student as bay_before,
        lag(struck_at) over by_student as before
    from raw.shot
    semi join stage.night using (night)
    where student_id is not null
    window by_student as (partition by night, student_id order by struck_at)
)

select
    'bays ' || least(bay_id, bay_before) || ' and ' || greatest(bay_id, bay_before) || ' on ' || night || ', '
    || count(*) || ' turns' as example
from shots
where bay_id <> bay_before and struck_at - before < interval 1 minute
group by night, student_id, least(bay_id, bay_before), greatest(bay_id, bay_before)
having count(*) >= 3
