"""Cohorts between windows of weeks."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from tests.warehouse.domain.change.test_student_change import MONDAY, draw
from warehouse.domain.change import cohort_change

ENROLLED = pl.DataFrame(
    {
        "student_id": [f"S{i:03d}" for i in range(60)],
        "cohort": ["even", "odd"] * 30,
        "from_date": None,
        "to_date": None,
    },
    schema_overrides={"from_date": pl.Date, "to_date": pl.Date},
)


def test_windows_are_whole_weeks_at_both_ends_of_the_data() -> None:
    weeks = pl.Series([MONDAY + dt.timedelta(weeks=w) for w in range(12)])
    term, recent = cohort_change.default_windows(weeks)
    assert term == (MONDAY, dt.date(2025, 2, 2), dt.date(2025, 3, 3), dt.date(2025, 3, 30))
    assert recent == (dt.date(2025, 2, 3), dt.date(2025, 3, 2), dt.date(2025, 3, 3), dt.date(2025, 3, 30))
    short = cohort_change.default_windows(weeks.head(5))
    assert short[0] == (MONDAY, dt.date(2025, 1, 19), dt.date(2025, 1, 27), dt.date(2025, 2, 9))
    assert cohort_change.default_windows(weeks.head(1)) == []


def test_the_cohort_that_moved_shows_its_change_and_the_other_none() -> None:
    found = cohort_change.cohort_change(draw(moved=2.0), ENROLLED)
    term = found.filter(pl.col("before_from") == MONDAY).sort("cohort")
    assert term["change"][0] == pytest.approx(2.0, abs=0.6)
    assert term["ci_low"][0] > 1 and term["ci_low"][1] < 0 < term["ci_high"][1]
    assert term["share_beyond_mdc"][0] > term["share_beyond_mdc"][1]
    assert term["students"].to_list() == [30, 30]


def test_intervals_cover_no_change_nineteen_times_in_twenty() -> None:
    found = pl.concat([cohort_change.cohort_change(draw(seed, students=40), ENROLLED) for seed in range(40)])
    covered = found.select(pl.lit(0.0).is_between("ci_low", "ci_high")).to_series().mean()
    # 160 intervals, neighbours sharing a window: 3 standard errors of .95 about .05.
    assert covered > 0.89


def test_students_seen_only_before_are_counted_and_left_out_of_the_mean() -> None:
    frame = draw(moved=2.0)
    gone = frame.filter(~((pl.col("student_id") < "S010") & (pl.col("week") >= MONDAY + dt.timedelta(weeks=8))))
    term = cohort_change.cohort_change(gone, ENROLLED).filter(pl.col("before_from") == MONDAY).sort("cohort")
    assert term["students"].to_list() == [25, 25]
    assert term["students_only_before"].to_list() == [5, 5]


def test_each_student_counts_once_however_often_they_came() -> None:
    frame = draw(sessions=8, moved=0.0)
    late = pl.col("week") >= MONDAY + dt.timedelta(weeks=4)
    shifted = frame.with_columns(
        pl.col("centre") + pl.when(late & (pl.col("student_id") == "S000")).then(30.0).otherwise(0)
    )
    often = pl.concat(
        [shifted, *[shifted.filter(student_id="S000").with_columns(pl.col("session_id") + f"-{i}") for i in range(9)]]
    )
    once, many = cohort_change.cohort_change(shifted, ENROLLED), cohort_change.cohort_change(often, ENROLLED)
    assert many["change"].to_list() == pytest.approx(once["change"].to_list())


def test_a_student_enrolled_after_the_first_window_is_not_of_the_cohort_then() -> None:
    later = ENROLLED.with_columns(
        from_date=pl.when(pl.col("student_id") == "S000").then(dt.date(2025, 3, 1)).otherwise(None)
    )
    term = cohort_change.cohort_change(draw(), later).filter(pl.col("before_from") == MONDAY).sort("cohort")
    assert term["students"].to_list() == [29, 30]


def test_free_practice_alone_is_shown_as_expected() -> None:
    found = cohort_change.cohort_change(draw(trend=0.3), ENROLLED).filter(pl.col("before_from") == MONDAY)
    assert found["expected_change"].to_list() == pytest.approx([2.4, 2.4], abs=0.5)


def test_spread_is_compared_in_logs() -> None:
    rng = np.random.default_rng(4)
    frame = draw().with_columns(spread=pl.Series(2 * np.exp(rng.normal(0, 0.15, 720))))
    late = pl.col("week") >= MONDAY + dt.timedelta(weeks=6)
    narrower = frame.with_columns(pl.col("spread") * pl.when(late).then(0.8).otherwise(1.0))
    found = cohort_change.cohort_change(narrower, ENROLLED).filter(
        (pl.col("measure") == "spread") & (pl.col("before_from") == MONDAY)
    )
    assert found["change"].to_list() == pytest.approx([np.log(0.8)] * 2, abs=0.06)


def test_no_blocks_give_an_empty_frame_with_every_column() -> None:
    assert cohort_change.cohort_change(draw().head(0), ENROLLED).columns == list(cohort_change.SCHEMA)
