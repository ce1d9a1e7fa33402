"""A student is listed for the same call two weeks running, with false discoveries over students held."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from warehouse.domain.change import student_list

DAY = dt.date(2026, 3, 2)


def changes(values: dict[str, tuple[float, float]], measure: str = "centre", metric: str = "carry") -> pl.DataFrame:
    """Rows of student_change: student -> (change beyond expected, p)."""
    return pl.DataFrame(
        [
            {"student_id": student, "club_group": "driver", "metric": metric, "measure": measure, "latest_week": DAY,
             "change": change, "change_beyond_expected": change, "beyond": p < 0.05, "p_value": p}
            for student, (change, p) in values.items()
        ]
    )  # fmt: skip


def goals(students: list[str], better: str = "up", metric: str = "carry") -> pl.DataFrame:
    """A goal for each student."""
    return pl.DataFrame(
        [{"student_id": one, "metric": metric, "club_group": "driver", "better": better} for one in students]
    )


def test_only_a_call_that_held_the_week_before_is_listed() -> None:
    now = changes({"a": (-5.0, 1e-6), "b": (-5.0, 1e-6), "c": (4.0, 1e-6), "d": (-5.0, 1e-6)})
    before = changes({"a": (-4.0, 1e-4), "b": (-4.0, 0.6), "c": (-4.0, 1e-4)})
    held = goals(["a", "b", "c", "d"])
    found = student_list.two_weeks_running(student_list.calls(now, held), student_list.calls(before, held))
    assert found.select("student_id", "side", "side_week_before", "listed").rows() == [
        ("a", "worse", "worse", True),
        ("b", "worse", None, False),
        ("c", "better", "worse", False),
        ("d", "worse", None, False),
    ]


@pytest.mark.parametrize(
    ("better", "change", "side"),
    [("up", 2, "better"), ("up", -2, "worse"), ("down", -2, "better"), ("zero", 2, "worse"), ("zero", -2, "better")],
)
def test_the_side_is_turned_by_the_metrics_better_direction(better: str, change: float, side: str) -> None:
    measure, other = ("distance", "centre") if better == "zero" else ("centre", "distance")
    rows = pl.concat([changes({"a": (change, 1e-6)}, measure), changes({"a": (-change, 1e-6)}, other)])
    assert student_list.calls(rows, goals(["a"], better))["side"].to_list() == [side]


def test_false_discoveries_are_controlled_over_students_on_their_own_goal_numbers() -> None:
    # Benjamini & Hochberg 1995, section 3.2: of these 15 p-values, 4 are rejected at 0.05.
    p = [0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.324, 0.4262, 0.5719, 0.6528, 0.759,
         1.0]  # fmt: skip
    students = [f"s{number:02d}" for number in range(15)]
    rows = changes({student: (-1.0, one) for student, one in zip(students, p, strict=True)})
    assert student_list.calls(rows, goals(students))["side"].drop_nulls().len() == 4
    # A change of a number that is not the student's goal counts for nothing.
    with_others = pl.concat([rows, changes(dict.fromkeys(students, (-9.0, 1e-9)), metric="lateral")])
    assert student_list.calls(with_others, goals(students))["side"].drop_nulls().len() == 4


def test_where_nothing_is_expected_the_plain_change_is_called() -> None:
    rows = changes({"a": (3.0, 1e-6)}).with_columns(change_beyond_expected=pl.lit(None, pl.Float64))
    assert student_list.calls(rows, goals(["a"]))["side"].to_list() == ["better"]


def test_the_week_before_is_seven_days_before_the_last_night() -> None:
    days = [DAY + dt.timedelta(days=number) for number in range(15)]
    kept = student_list.as_of_week_before(pl.DataFrame({"day": days}))
    assert kept["day"].max() == days[-8]


def test_two_weeks_of_noise_list_fewer_than_one() -> None:
    rng = np.random.default_rng(1)
    students = [f"s{number:03d}" for number in range(100)]
    held, counted = goals(students), 0
    for _ in range(50):
        weeks = [changes({one: (float(rng.normal()), float(rng.uniform())) for one in students}) for _ in range(2)]
        calls = [student_list.calls(week, held) for week in weeks]
        counted += student_list.two_weeks_running(*calls)["listed"].sum()
    assert counted <= 5
