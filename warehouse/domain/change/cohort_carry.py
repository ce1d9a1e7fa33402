"""A cohort's measured carry by week and month, beside what the same launches carry on standard air.

Measured carry holds the weather, the balls and the bays; the model's carry on standard air holds the launch alone. Not
here: the flights (shot_columns), which shots are usable.
"""

from __future__ import annotations

import polars as pl

from warehouse.domain.statistics.student_means import means_by_student

PERIODS = {"week": "1w", "month": "1mo"}
NUMBERS = ("carry", "standard_carry", "difference")


def cohort_carry(nights: pl.DataFrame, enrolments: pl.DataFrame) -> pl.DataFrame:
    """Return mean carries by cohort, period and club group, each student counting once.

    Parameters
    ----------
    nights : polars.DataFrame
        student_id, night, club_group, shots, carry, standard_carry (means in m over shots that have both), air_density
        (mean, kg/m^3).
    enrolments : polars.DataFrame
        student_id, cohort, from_date, to_date (either may be null: from always, still). A night counts for the cohorts
        in which the student was enrolled on it.

    Returns
    -------
    polars.DataFrame
        cohort, period ('week' from Monday, or 'month'), starts_on, club_group, students, shots, air_density; carry,
        standard_carry and difference (measured less standard), each with its 95% interval by student (t; `_low`,
        `_high`), as in `by_student`.
    """
    enrolled = nights.join(enrolments, on="student_id").filter(
        (pl.col("from_date").is_null() | (pl.col("from_date") <= pl.col("night")))
        & (pl.col("to_date").is_null() | (pl.col("to_date") >= pl.col("night")))
    )
    # Two stays in one cohort that overlap are one.
    enrolled = enrolled.unique(["student_id", "night", "club_group", "cohort"]).drop("from_date", "to_date")
    rows = pl.concat([_by_period(enrolled, name, step) for name, step in PERIODS.items()])
    return rows.sort("cohort", "period", "starts_on", "club_group")


def _by_period(enrolled: pl.DataFrame, name: str, step: str) -> pl.DataFrame:
    group = ["cohort", "period", "starts_on", "club_group"]
    weight = pl.col("shots") / pl.col("shots").sum()
    students = (
        enrolled.with_columns(period=pl.lit(name), starts_on=pl.col("night").dt.truncate(step))
        .sort("student_id", "night")
        .group_by([*group, "student_id"])
        .agg(
            *((pl.col(number) * weight).sum() for number in ("carry", "standard_carry", "air_density")),
            pl.col("shots").sum().cast(pl.Int64),
        )
        .with_columns(difference=pl.col("carry") - pl.col("standard_carry"))
        .sort(*group, "student_id")
    )
    around = students.group_by(group, maintain_order=True).agg(pl.col("shots").sum(), pl.col("air_density").mean())
    return means_by_student(students, group, NUMBERS).join(around, on=group, maintain_order="left")
