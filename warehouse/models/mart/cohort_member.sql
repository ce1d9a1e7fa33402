-- one row: one student's time in one cohort; students without enrolments hold the cohort of the student table
with enrolled as (
    select distinct
        student_id,
        cohort,
        from_date,
        to_date
    from raw.enrolment
),

others as (
    select
        student.student_id,
        student.cohort,
        student.joined_on as from_date,
        null::date as to_date
    from raw.student as student
    anti join enrolled using (student_id)
    where student.cohort is not null
)

select * from enrolled
union all
select * from others
