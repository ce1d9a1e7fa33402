"""The CUSUM against its textbook, and drift against planted drift."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from tests.warehouse.domain.bays.test_offsets import MONDAY, draw
from warehouse.domain.bays import drift
from warehouse.domain.bays import offsets as bay_offset
from warehouse.domain.bays.fit import dummies, prepare

# fmt: off
MONTGOMERY = (9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.20, 10.34, 9.03, 11.47, 10.51, 9.40, 10.08, 9.37,
              10.62, 10.31, 8.52, 10.84, 10.90, 9.33, 12.29, 11.50, 10.60, 11.08, 10.38, 11.62, 11.31, 10.52)
# fmt: on


def test_cusum_signals_where_the_textbook_example_does() -> None:
    # Montgomery, Introduction to Statistical Quality Control, the first tabular CUSUM example (target 10, sigma 1,
    # K = .5, H = 5): out of control at period 29 with C+ = 5.28, after 7 periods above zero. From memory.
    high, low = drift.cusum(np.array(MONTGOMERY) - 10)
    assert int(np.flatnonzero(high > 5)[0]) + 1 == 29
    assert high[28] == pytest.approx(5.28, abs=0.005)
    assert low.max() < 5
    assert int(np.flatnonzero(high[:29] == 0)[-1]) + 1 == 22


def test_run_length_is_the_published_one() -> None:
    # Siegmund's approximation, two-sided, k = .5: 465 for h = 5 (exact 465), 168 for h = 4. Montgomery, from memory.
    assert drift.run_length(np.array([4.0, 5.0])) == pytest.approx([168, 469], rel=0.02)


@pytest.mark.parametrize("weeks", [14, 26, 52])
def test_the_chance_of_a_peak_is_that_of_steady_series_about_their_own_mean(weeks: int) -> None:
    series = np.random.default_rng(weeks).normal(size=(4000, weeks))
    peaks = np.array([np.max(drift.cusum(z)) for z in series - series.mean(axis=1, keepdims=True)])
    chance = drift.chance(peaks, np.full(peaks.size, weeks))
    # Three standard errors of a share of .02 in 4000 are .007; the approximation may say a third too little.
    assert 0.013 <= (chance <= 0.02).mean() <= 0.034


def test_over_very_many_weeks_the_chance_is_that_of_the_published_run_length() -> None:
    weeks = np.array([1e4])
    spent = -np.log1p(-drift.chance(np.array([8.0]), weeks))
    assert spent == pytest.approx(weeks / drift.run_length(np.array([8.0])), rel=0.03)


def test_a_bay_that_shifts_is_flagged_with_its_weekly_offsets_and_no_other_bay_is() -> None:
    sessions = draw(metric="attack_angle", students=150, weeks=20)
    moved = (pl.col("bay_id") == "B03") & (pl.col("week") >= MONDAY + dt.timedelta(weeks=10))
    sessions = sessions.with_columns(pl.col("centre") + pl.when(moved).then(1.5).otherwise(0.0))
    offsets = bay_offset.fit(sessions)
    assert offsets.filter(pl.col("drifting"))["bay_id"].to_list() == ["B03"]
    history = drift.flag(sessions, offsets).filter(bay_id="B03").sort("week")
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


def test_a_weeks_information_is_what_least_squares_leaves_of_its_indicator() -> None:
    # Reference: numpy's lstsq on the written-out design, so thin that weeks overlap with students and bays.
    rows = draw(students=9, bays=2, weeks=3).sample(fraction=0.6, seed=1)
    data = prepare(rows.with_columns(epoch=pl.col("bay_id").rank("dense") - 1), "face_angle")
    cell, cells, weight = data.epoch * 3 + data.week, 6, 1 / (1 + data.noise)
    known = np.column_stack([dummies(data.group, int(data.group.max()) + 1), dummies(data.epoch, 2), data.trend])
    known, week = (np.sqrt(weight)[:, None] * x for x in (known, dummies(cell, cells)))
    left = week - known @ np.linalg.lstsq(known, week, rcond=None)[0]
    assert drift._information(data, cell, cells, weight) == pytest.approx((left**2).sum(axis=0), abs=1e-9)


def test_no_week_of_a_thin_academy_is_out_of_all_bounds() -> None:
    """Twelve students and two steady bays, half the sessions missing: planted offsets are 2 and -2 degrees."""
    for seed in range(60):
        sessions = draw(seed, students=12, bays=2, weeks=3).sample(fraction=0.5, seed=seed)
        offsets = bay_offset.fit(sessions)
        assert not offsets["drifting"].any()
        assert (drift.flag(sessions, offsets)["weekly_offset"].abs() < 15).all()
