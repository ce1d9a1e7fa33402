-- one row: one student; the name is withheld without consent
with latest as (
    select max(night) as night
    from ops.export_file
),

seen as (
    select
        student_id,
        count(*) as sessions,
        max(night) as last_seen
    from core.session
    group by student_id
),

cohorts as (
    select
        student_id,
        cohort
    from mart.cohort_member
    qualify row_number() over (partition by student_id order by from_date desc) = 1
),

students as (
    select
        student.*,
        cohorts.cohort as latest_cohort,
        date_sub('year', student.born_on, latest.night) as age
    from raw.student as student
    cross join latest
    left join cohorts using (student_id)
)

select
    students.student_id,
    case when students.consent = 'yes' then students.name end as name,
    students.handed,
    students.handicap,
    case
        when students.handicap < 10 then 'under 10'
        when students.handicap < 20 then '10 to 19'
        when students.handicap < 30 then '20 to 29'
        when students.handicap >= 30 then '30 and over'
    end as handicap_band,
    students.joined_on,
    students.latest_cohort as cohort,
    case
        when students.age < 18 then 'under 18'
        when students.age < 40 then '18 to 39'
        when students.age < 60 then '40 to 59'
        when students.age >= 60 then '60 and over'
    end as age_group,
    students.age < 18 as minor,
    coalesce(students.consent_evidence, students.consent) = 'yes' as in_evidence,
    coalesce(seen.sessions, 0) as sessions,
    seen.last_seen
from students
left join seen using (student_id)
