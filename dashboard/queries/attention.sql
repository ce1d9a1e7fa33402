-- One thing that needs attention, the most urgent first; subject says which page shows it.
select
    attention.rank,
    attention.kind,
    attention.subject_id,
    attention.metric,
    attention.club_group,
    attention.since,
    attention.counted,
    attention.amount,
    attention.reason,
    case
        when drill.drill_id is not null then 'drill'
        when student.student_id is not null then 'student'
        when bay.bay_id is not null then 'bay'
        else ''
    end as subject,
    coalesce(drill.name, student.name, attention.subject_id) as shown_as,
    student.student_id is not null and coalesce(student.minor, true) as minor
from mart.attention as attention
left join mart.drill as drill
    on attention.subject_id = drill.drill_id and attention.kind <> 'student slides' and not starts_with(attention.kind, 'bay')
left join mart.student as student on attention.subject_id = student.student_id and attention.kind = 'student slides'
left join mart.bay as bay on attention.subject_id = bay.bay_id and starts_with(attention.kind, 'bay')
order by attention.rank
