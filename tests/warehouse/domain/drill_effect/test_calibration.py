"""What an academy's own data say about the method: placebo drills, lots, students' own trends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from tests.warehouse.domain.drill_effect.test_verdict import CALM, CLEAR
from warehouse.domain.drill_effect import calibration, estimate, trend, verdict
from warehouse.domain.drill_effect.episodes import level, panel, prepare


def row(**more) -> dict:
    """A drill's aim as it comes to calibration."""
    return {
        "is_aim": True, "horizon": "transfer", "club_group": "driver", "measure": "centre", "orientation": 1.0,
        "matters_from": 1.0, "drawn_share": 0.1, "effect": 0.5, "check_effect": 0.5, "standard_error": 0.1,
        "check_error": 0.1,
    } | more  # fmt: skip


def test_with_equal_errors_the_null_is_the_mean_and_the_variance_beyond_the_errors() -> None:
    # Hand-computed: maximum likelihood of N(mu, tau^2 + s^2) with one s is the mean and the variance (over n) less s^2.
    y = np.array([-0.4, 0.1, 0.3, 0.9, 1.1])
    null = calibration.empirical_null(y, np.full(5, 0.2))
    assert null.mean == pytest.approx(0.4)
    assert null.spread == pytest.approx(np.sqrt(0.296 - 0.04), rel=1e-4)
    assert calibration.empirical_null(y, np.full(5, 0.7)).spread == 0


def test_the_null_is_where_the_likelihood_of_unequal_errors_is_greatest() -> None:
    from scipy.stats import norm

    rng = np.random.default_rng(1)
    error = rng.uniform(0.05, 0.4, 40)
    y = rng.normal(0.2, np.sqrt(0.3**2 + error**2))
    null = calibration.empirical_null(y, error)

    def likelihood(mean: float, spread: float) -> float:
        return norm.logpdf(y, mean, np.sqrt(spread**2 + error**2)).sum()

    best = likelihood(*null)
    assert all(
        likelihood(null.mean + a, null.spread + b) <= best + 1e-9 for a in (-0.02, 0, 0.02) for b in (-0.02, 0, 0.02)
    )


def test_luck_alone_widens_hardly_and_systematic_error_by_about_its_size() -> None:
    rng = np.random.default_rng(2)
    error = np.full(30, 0.2)
    luck = [calibration.beyond_luck(rng.normal(0, error), error) for _ in range(200)]
    lean = [calibration.beyond_luck(rng.normal(0, np.sqrt(error**2 + 0.3**2)), error) for _ in range(200)]
    assert np.mean(np.square(luck)) < 0.1 * 0.2**2
    assert np.mean(lean) == pytest.approx(0.3, abs=0.04)


def test_what_chosen_drills_seem_to_do_more_than_drawn_ones_is_taken_off_and_carried() -> None:
    rows = [row(chosen_less_drawn=0.4 + d, chosen_less_drawn_error=0.1) for d in (-0.05, 0.0, 0.05, 0.1, -0.1)]
    calibration.calibrate(rows)
    # A lean of .4 with an error of .045 is trusted almost whole; nine in ten episodes were chosen.
    assert rows[0]["effect"] == pytest.approx(0.5 - 0.9 * 0.4, abs=0.02)
    assert rows[0]["standard_error"] > 0.1
    noisy = [row(chosen_less_drawn=d, chosen_less_drawn_error=0.5) for d in (-0.4, 0.5, 0.1, -0.2, 0.05)]
    calibration.calibrate(noisy)
    assert noisy[0]["effect"] == pytest.approx(0.5, abs=0.01)


def test_a_trend_that_students_may_differ_by_widens_what_was_chosen_and_not_what_was_drawn() -> None:
    chosen, drawn = (row(drawn_share=s, per_weekly_gain=3.0, trend_spread=0.1) for s in (0.0, 1.0))
    calibration.calibrate([chosen, drawn])
    assert chosen["standard_error"] == pytest.approx(np.hypot(0.1, 0.5 * 3.0 * 0.1))
    assert drawn["standard_error"] == pytest.approx(0.1)


def test_a_lean_of_students_who_get_a_drill_shows_in_its_placebo_and_not_in_the_others(academy_rows) -> None:
    rows = academy_rows(seed=5, students=120, visits=16, effects={"A": 0.0, "B": 0.0})
    of_a = rows.filter(pl.col("drill_id") == "A")["student_id"].unique()
    half = of_a.sort()[: of_a.len() // 2]
    leaning = pl.col("student_id").is_in(half.implode())
    # Students of the first half get only A and gain after every block, drill or not: no drill's doing.
    rows = rows.with_columns(
        drill_id=pl.when(pl.col("drill_id").is_not_null()).then(
            pl.when(leaning).then(pl.lit("A")).otherwise(pl.lit("B"))
        ),
        post_centre=pl.col("post_centre") + pl.when(leaning).then(2.0).otherwise(0.0),
    )
    found = {r["drill_id"]: r for r in estimate(rows).filter(
        (pl.col("measure") == "centre") & (pl.col("horizon") == "transfer") & (pl.col("club_group") != "any")
    ).iter_rows(named=True)}  # fmt: skip
    assert found["A"]["placebo_low"] > 0 > found["B"]["placebo_high"]
    assert found["A"]["placebo_effect"] == pytest.approx(found["A"]["effect"], abs=0.3)


def test_placebo_intervals_hold_zero_nine_times_in_ten_and_more_where_nothing_leans(academy_rows) -> None:
    held = []
    for seed in range(12):
        found = estimate(academy_rows(seed=seed, students=80, visits=12, effects={"A": 0.0, "B": 1.0, "C": 2.0}))
        found = found.filter((pl.col("measure") == "centre") & (pl.col("club_group") != "any"))
        held += (found["placebo_low"].le(0) & found["placebo_high"].ge(0)).drop_nulls().to_list()
    assert len(held) >= 60
    assert np.mean(held) > 0.85


def test_the_spread_of_students_own_trends_is_found_and_none_where_all_go_alike(academy_rows) -> None:
    rows = academy_rows(seed=3, students=200, visits=14)
    week = (pl.col("begins_at") - pl.col("begins_at").min()).dt.total_days() / 7
    slope = pl.col("student_id").cast(pl.Categorical).to_physical().cast(pl.Float64)
    for planted, low, high in ((0.0, 0.0, 0.06), (0.25, 0.2, 0.3)):
        ids = rows["student_id"].unique().sort()
        own = dict(zip(ids, np.random.default_rng(4).normal(0.1, planted, ids.len()), strict=True))
        slope = pl.col("student_id").replace_strict(own, return_dtype=pl.Float64)
        moved = rows.with_columns(pre_centre=pl.col("pre_centre") + slope * week)
        of = panel(prepare(moved))
        found = trend.between_students(of, of.centre[0], level(of, of.centre[0], of.variance[0]))
        assert low <= found.spread <= high


def test_a_claim_that_students_own_trends_would_explain_depends_on_assumptions_unless_lots_were_drawn() -> None:
    leaning = replace(CLEAR, trend_to_explain=0.10, trend_spread=0.08)
    word, reason = verdict.judge(leaning)
    assert word == "depends on assumptions"
    assert "0.1 a week faster" in reason
    assert verdict.judge(replace(leaning, drawn_share=0.6))[0] == "works"
    assert verdict.judge(replace(leaning, trend_to_explain=0.13))[0] == "works"
    certain, why = verdict.certainty(leaning, CALM)
    assert certain == "low"
    assert "trends" in why
    assert verdict.certainty(CLEAR, replace(CALM, placebo_leans=True))[0] == "low"
