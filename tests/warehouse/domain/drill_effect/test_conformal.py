"""Past forecasts held against what came."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from warehouse.domain.drill_effect import conformal
from warehouse.domain.drill_effect.forecast import forecast


def test_the_factor_is_the_ratio_that_four_fifths_of_the_past_lie_under() -> None:
    # Hand-computed: ceil(100 x .8) = 80th smallest of 99.
    ratios = np.random.default_rng(1).permutation(np.arange(1, 100) / 50)
    assert conformal.factor(ratios, 0.8) == pytest.approx(1.6)
    assert conformal.factor(ratios[:20], 0.8) == 1.0


def test_too_narrow_intervals_hold_eight_in_ten_of_what_comes_after_the_correction() -> None:
    rng = np.random.default_rng(2)
    held = []
    for _ in range(200):
        past, coming = np.abs(rng.standard_t(3, 300)) / 0.9, np.abs(rng.standard_t(3, 300)) / 0.9
        held.append((coming <= conformal.factor(past, 0.8)).mean())
    assert np.mean(held) == pytest.approx(0.80, abs=0.01)


def test_an_episode_is_told_by_its_students_earlier_days_only() -> None:
    student, day = np.array([1, 0, 1, 1, 0, 1]), np.array([3, 9, 1, 3, 2, 8])
    n, mean = conformal.earlier(np.array([10.0, 1.0, 4.0, 20.0, 7.0, 99.0]), student, day)
    assert n.tolist() == [1, 1, 0, 1, 0, 3]
    assert mean == pytest.approx([4.0, 7.0, 0.0, 4.0, 0.0, 34 / 3])


def test_every_forecast_says_how_past_ones_of_its_drill_came_out(academy_rows) -> None:
    found = forecast(academy_rows(students=80, visits=14, effects={"A": 0.0, "B": 1.0, "C": 0.5}))
    by_drill = found.group_by("drill_id").agg(pl.col("past_forecasts", "past_held_share").first())
    assert by_drill["past_forecasts"].min() > 20
    held = (by_drill["past_forecasts"] * by_drill["past_held_share"]).sum() / by_drill["past_forecasts"].sum()
    assert held == pytest.approx(0.80, abs=0.01)
