"""Cohorts' carry by week and month: a warm month moves measured carry and not the launches'."""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest

from warehouse.domain.change.cohort_carry import cohort_carry
from warehouse.domain.flight.constants import STANDARD_DENSITY
from warehouse.domain.flight.trajectory import fly

STUDENTS = [f"S{n}" for n in range(6)]
ALL = {"cohort": "all", "from_date": None, "to_date": None}
ENROLMENT = {"student_id": pl.String, "cohort": pl.String, "from_date": pl.Date, "to_date": pl.Date}


def enrolments(*rows):
    return pl.DataFrame(list(rows), schema=ENROLMENT)


def night(student, day, carry, standard, shots=10, density=1.2):
    return {
        "student_id": student, "night": day, "club_group": "driver", "shots": shots, "carry": float(carry),
        "standard_carry": float(standard), "air_density": density,
    }  # fmt: skip


def test_a_warm_june_moves_measured_carry_and_leaves_the_launches_where_they_were():
    launch = {"launch_angle": 12.0, "spin_rate": 2600.0}
    rows = []
    for n, student in enumerate(STUDENTS):
        standard = fly(ball_speed=64 + n, air_density=STANDARD_DENSITY, **launch).carry
        for day, density in ((date(2031, 2, 4), 1.27), (date(2031, 6, 10), 1.16)):
            rows.append(night(student, day, fly(ball_speed=64 + n, air_density=density, **launch).carry, standard))
    found = cohort_carry(pl.DataFrame(rows), enrolments(*(ALL | {"student_id": s} for s in STUDENTS)))
    cold, warm = found.filter(pl.col("period") == "month").sort("starts_on").iter_rows(named=True)
    assert warm["carry"] - cold["carry"] > 3  # thinner air carries further with a driver: common practice, no source
    assert warm["standard_carry"] == pytest.approx(cold["standard_carry"])
    assert warm["difference_low"] > 0 > cold["difference_high"]
    # Students differ much more than the air does, and the difference is taken within each.
    assert warm["difference_high"] - warm["difference_low"] < 0.1 * (warm["carry_high"] - warm["carry_low"])


def test_each_student_counts_once_however_many_balls_and_nights():
    monday = date(2031, 3, 3)
    rows = [night("S0", monday + timedelta(days=d), 200, 190, shots=500) for d in range(3)]
    rows += [night("S0", monday + timedelta(days=3), 100, 90, shots=1500), night("S1", monday, 210, 205, shots=1)]
    found = cohort_carry(pl.DataFrame(rows), enrolments(*(ALL | {"student_id": s} for s in ("S0", "S1"))))
    week = found.filter(pl.col("period") == "week").row(0, named=True)
    assert (week["starts_on"], week["students"], week["shots"]) == (monday, 2, 3001)
    assert week["carry"] == pytest.approx((150 + 210) / 2)
    assert week["difference"] == pytest.approx((10 + 5) / 2)
    assert week["carry_low"] is None


def test_a_night_counts_for_the_cohorts_the_student_was_in_on_it_and_once_each():
    spring = {"student_id": "S0", "cohort": "spring", "from_date": date(2031, 3, 1), "to_date": date(2031, 3, 31)}
    twice = spring | {"from_date": date(2031, 3, 2)}
    rows = [night("S0", day, 200, 190) for day in (date(2031, 2, 28), date(2031, 3, 10), date(2031, 4, 1))]
    found = cohort_carry(pl.DataFrame(rows), enrolments(spring, twice, ALL | {"student_id": "S0"}))
    months = found.filter(pl.col("period") == "month").select("cohort", "starts_on", "shots").rows()
    assert months == [
        ("all", date(2031, 2, 1), 10), ("all", date(2031, 3, 1), 10), ("all", date(2031, 4, 1), 10),
        ("spring", date(2031, 3, 1), 10),
    ]  # fmt: skip


def test_no_shots_make_no_rows_with_the_same_columns():
    some = cohort_carry(pl.DataFrame([night("S0", date(2031, 3, 3), 1, 1)]), enrolments(ALL | {"student_id": "S0"}))
    none = cohort_carry(pl.DataFrame([night("S0", date(2031, 3, 3), 1, 1)]).clear(), enrolments())
    assert none.is_empty()
    assert none.schema == some.schema
