"""The CUSUM against its textbook, and drift against planted drift."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from tests.warehouse.domain.test_bay_offset import MONDAY, draw
from warehouse.domain import bay_drift, bay_offset

# fmt: off
MONTGOMERY = (9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08, 9.37,
              10.62, 10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52)
# fmt: on


def test_cusum_signals_where_the_textbook_example_does() -> None:
    # Montgomery, Introduction to Statistical Quality Control, the first tabular CUSUM example (target 10, sigma 1,
    # K = .5, H = 5): out of control at period 29 with C+ = 5.28, after 7 periods above zero. From memory.
    high, low = bay_drift.cusum(np.array(MONTGOMERY) - 10)
    assert int(np.flatnonzero(high > 5)[0]) + 1 == 29
    assert high[28] == pytest.approx(5.28, abs=0.005)
    assert low.max() < 5
    assert int(np.flatnonzero(high[:29] == 0)[-1]) + 1 == 22


def test_run_length_is_the_published_one() -> None:
    # Siegmund's approximation, two-sided, k = .5: 465 for h = 5 (exact 465), 168 for h = 4. Montgomery, from memory.
    assert bay_drift.run_length(np.array([4.0, 5.0])) == pytest.approx([168, 469], rel=0.02)


def test_a_bay_that_shifts_is_flagged_with_its_weekly_offsets_and_no_other_bay_is() -> None:
    sessions = draw(metric="attack_angle", students=150, weeks=20)
    moved = (pl.col("bay_id") == "B03") & (pl.col("week") >= MONDAY + dt.timedelta(weeks=10))
    sessions = sessions.with_columns(pl.col("centre") + pl.when(moved).then(1.5).otherwise(0.0))
    offsets = bay_offset.fit(sessions)
    assert offsets.filter(pl.col("drifting"))["bay_id"].to_list() == ["B03"]
    history = bay_drift.flag(sessions, offsets).filter(bay_id="B03").sort("week")
    late = history.filter(pl.col("week") >= MONDAY + dt.timedelta(weeks=10))["weekly_offset"].mean()
    early = history.filter(pl.col("week") < MONDAY + dt.timedelta(weeks=10))["weekly_offset"].mean()
    assert late - early == pytest.approx(1.5, abs=0.4)


def test_told_of_the_recalibration_the_same_bay_is_not_drifting() -> None:
    sessions = draw(metric="attack_angle", students=150, weeks=20)
    on = MONDAY + dt.timedelta(weeks=10)
    moved = (pl.col("bay_id") == "B03") & (pl.col("week") >= on)
    sessions = sessions.with_columns(pl.col("centre") + pl.when(moved).then(1.5).otherwise(0.0))
    found = bay_offset.fit(sessions, pl.DataFrame({"bay_id": ["B03"], "on_date": [on]}))
    assert not found["drifting"].any()


def test_steady_bays_are_seldom_called_drifting() -> None:
    called = [bay_offset.fit(draw(seed, students=100, bays=8))["drifting"].sum() for seed in range(25)]
    # Controlled at .05 over each family of eight: about one family in twenty at most; four in 25 has chance .03.
    assert np.count_nonzero(called) <= 4
