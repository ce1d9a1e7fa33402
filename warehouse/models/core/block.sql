-- one row: one stretch of usable free shots in a session with one club, for one metric
with shots as (
    select *
    from core.shot
    semi join stage.night using (night)
    where usable
),

sorted as (
    select
        night,
        session_id,
        student_id,
        bay_id,
        segment,
        club,
        club_group,
        list_sort(list(columns(lambda name: list_contains(getvariable('metrics'), name))), 'asc', 'nulls last')
    from shots
    group by all
),

tall as (
    unpivot sorted on columns(lambda name: list_contains(getvariable('metrics'), name)) into name metric value measured
),

counted as (
    select
        *,
        list_count(measured) as shots,
        list_count(measured) // 10 as trimmed
    from tall
    where list_count(measured) > 0
),

winsorised as (
    select
        * exclude (measured),
        list_avg(measured[trimmed + 1:shots - trimmed]) as centre,
        list_var_samp(
            list_concat(
                list_resize([]::double[], trimmed, measured[trimmed + 1]),
                measured[trimmed + 1:shots - trimmed],
                list_resize([]::double[], trimmed, measured[shots - trimmed])
            )
        ) as winsorised_variance
    from counted
)

select
    night,
    session_id,
    student_id,
    bay_id,
    segment,
    club,
    club_group,
    metric,
    shots,
    centre,
    winsorised_variance / (shots * (1 - 2.0 * trimmed / shots) ^ 2) as variance,
    sqrt(winsorised_variance) as spread
from winsorised
