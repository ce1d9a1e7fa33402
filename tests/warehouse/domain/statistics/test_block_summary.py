"""Blocks against reference libraries and exact results."""

from __future__ import annotations

import numpy as np
import pytest

from warehouse.domain.statistics import block_summary

RNG = np.random.default_rng(11)


@pytest.mark.parametrize("n", [10, 19, 20, 37])
def test_centre_spread_and_error_agree_with_scipys_trimming(n: int) -> None:
    from scipy.stats import t, trim_mean
    from scipy.stats.mstats import trimmed_mean_ci, winsorize

    x = RNG.standard_t(3, n)
    g = n // 10
    assert block_summary.centre(x) == pytest.approx(trim_mean(x, 0.1))
    assert block_summary.winsorised_sd(x) == pytest.approx(np.std(winsorize(x, (g / n, g / n)), ddof=1))
    # scipy's interval for the trimmed mean is Tukey & McLaughlin's: t with n - 2g - 1 degrees of freedom.
    low, high = trimmed_mean_ci(x, limits=(g / n, g / n), alpha=0.05)
    error = (high - low) / 2 / t.ppf(0.975, n - 2 * g - 1)
    assert np.sqrt(block_summary.error_variance(x)) == pytest.approx(error, rel=1e-6)


@pytest.mark.parametrize("n", [5, 9])
def test_under_ten_shots_nothing_is_trimmed(n: int) -> None:
    x = RNG.standard_t(3, n)
    assert block_summary.centre(x) == pytest.approx(x.mean())
    assert block_summary.winsorised_sd(x) == pytest.approx(x.std(ddof=1))
    assert block_summary.error_variance(x) == pytest.approx(x.var(ddof=1) / n)


def test_many_blocks_at_once_agree_with_one_at_a_time_and_leave_missing_shots_out() -> None:
    label = RNG.integers(0, 6, 90)
    x = RNG.normal(size=90)
    x[::11] = np.nan
    found = block_summary.summarise(x, label, 7)
    for block in range(6):
        mine = x[(label == block) & np.isfinite(x)]
        assert found.shots[block] == mine.size
        assert found.centre[block] == pytest.approx(block_summary.centre(mine))
        assert found.spread[block] == pytest.approx(block_summary.winsorised_sd(mine))
    assert found.shots[6] == 0
    assert np.isnan(found.centre[6])


def test_one_wild_ball_in_ten_does_not_move_the_centre_beyond_the_rest() -> None:
    x = np.arange(10.0)
    wild = np.where(x == 9, 1e6, x)
    assert block_summary.centre(wild) == pytest.approx(block_summary.centre(x))


def test_log_spread_of_five_normal_shots_has_the_exact_chi_moments() -> None:
    # n = 5: mean (digamma(2) + log(1/2))/2, variance trigamma(2)/4 (log of a chi with 4 degrees of freedom).
    mean, variance = block_summary.log_spread_moments(np.array([5]))
    assert mean[0] == pytest.approx(0.5 * (0.4227843351 + np.log(0.5)))
    assert variance[0] == pytest.approx(0.25 * 0.6449340668)


@pytest.mark.parametrize("n", [10, 14, 19, 20, 33, 60, 120])
def test_the_table_of_log_spreads_agrees_with_fresh_simulation(n: int) -> None:
    z = np.random.default_rng(n).normal(size=(20_000, n))
    spread = block_summary.summarise(z.ravel(), np.repeat(np.arange(20_000), n)).spread
    mean, variance = block_summary.log_spread_moments(np.array([n]))
    assert np.log(spread).mean() == pytest.approx(mean[0], abs=5 * np.log(spread).std() / np.sqrt(20_000) + 6e-4)
    assert np.log(spread).var() == pytest.approx(variance[0], rel=0.06)


def test_a_block_without_scatter_has_no_log_spread() -> None:
    value, variance = block_summary.log_spread(np.array([0.0, 2.0]), np.array([12, 12]))
    assert np.isnan(value[0])
    assert np.isnan(variance[0])
    assert np.isfinite(value[1])
