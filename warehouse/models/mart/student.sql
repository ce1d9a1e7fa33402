-- one row: one student; the name comes in as the file for those who may see it is made
with seen as (
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
        date_sub('year', student.born_on, getvariable('today')::date) as years
    from raw.student as student
    left join cohorts using (student_id)
),

-- by the clock, never by a night that an export names; an age that nobody has is an unknown one
aged as (
    select
        student_id,
        years as age
    from students
    where years between 0 and 110
)

select
    students.student_id,
    null::varchar as name,
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
        when aged.age < 18 then 'under 18'
        when aged.age < 40 then '18 to 39'
        when aged.age < 60 then '40 to 59'
        when aged.age >= 60 then '60 and over'
    end as age_group,
    coalesce(aged.age < 18, true) as minor,
    coalesce(students.consent_evidence, students.consent) = 'yes' as in_evidence,
    coalesce(seen.sessions, 0) as sessions,
    seen.last_seen
from students
left join aged using (student_id)
left join seen using (student_id)
