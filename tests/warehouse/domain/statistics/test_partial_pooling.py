"""Partial pooling against published meta-analyses."""

from __future__ import annotations

import numpy as np
import pytest

from warehouse.domain.statistics import partial_pooling

# Colditz et al. (1994), BCG trials: tuberculosis cases and others, vaccinated and not (Viechtbauer 2010, table 1).
BCG = np.array([
    (4, 119, 11, 128), (6, 300, 29, 274), (3, 228, 11, 209), (62, 13536, 248, 12619), (33, 5036, 47, 5761),
    (180, 1361, 372, 1079), (8, 2537, 10, 619), (505, 87886, 499, 87892), (29, 7470, 45, 7232), (17, 1699, 65, 1600),
    (186, 50448, 141, 27197), (5, 2493, 3, 2338), (27, 16886, 29, 17825),
])  # fmt: skip
# Rubin (1981): eight schools, effects and standard errors.
SCHOOLS = np.array([28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0])
ERRORS = np.array([15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0])


def test_restricted_likelihood_on_the_bcg_trials_gives_the_published_pool() -> None:
    case, well, case0, well0 = BCG.T.astype(float)
    log_risk = np.log(case / (case + well)) - np.log(case0 / (case0 + well0))
    variance = 1 / case - 1 / (case + well) + 1 / case0 - 1 / (case0 + well0)
    found = partial_pooling.reml(log_risk, variance)
    assert found.tau2 == pytest.approx(0.3132, abs=5e-5)
    assert found.mean == pytest.approx(-0.7145, abs=5e-5)
    assert found.error == pytest.approx(0.1798, abs=5e-5)


def test_eight_schools_pool_fully_at_the_published_mean() -> None:
    found = partial_pooling.reml(SCHOOLS, ERRORS**2)
    assert found.tau2 == 0
    assert found.mean == pytest.approx(7.6856, abs=5e-5)
    shrunk, _ = partial_pooling.shrink(SCHOOLS, ERRORS**2, 0.0)
    assert shrunk == pytest.approx(np.full(8, 7.6856), abs=5e-5)


def test_carrying_the_doubt_about_tau_keeps_schools_apart_and_in_order() -> None:
    # Gelman et al., Bayesian Data Analysis, section 5.5 (flat prior on tau): school A about 11, C about 6; a wide
    # half-normal comes near (from memory, so to within 1.5).
    prior = partial_pooling.posterior(SCHOOLS, ERRORS**2, scale=15.0)
    means = [partial_pooling.shrink_carried(y, e**2, prior)[0] for y, e in zip(SCHOOLS, ERRORS, strict=True)]
    assert means[0] == pytest.approx(11, abs=1.5)
    assert means[2] == pytest.approx(6, abs=1.5)
    assert prior.weight.sum() == pytest.approx(1)
    fixed = partial_pooling.shrink(SCHOOLS, ERRORS**2, 0.0)[1]
    assert partial_pooling.shrink_carried(SCHOOLS[0], ERRORS[0] ** 2, prior)[1] > fixed[0]


def test_a_new_drill_is_expected_at_the_mean_with_more_doubt_than_a_known_one() -> None:
    prior = partial_pooling.posterior(SCHOOLS, ERRORS**2, scale=15.0)
    mean, deviation = partial_pooling.shrink_carried(np.nan, np.nan, prior)
    assert mean == pytest.approx(7.9, abs=0.8)
    assert deviation > partial_pooling.shrink_carried(8.0, 1.0, prior)[1]


def _row(drill: str, effect: float, **more: object) -> dict:
    return {
        "drill_id": drill, "is_aim": True, "orientation": 1.0, "horizon": "transfer", "club_group": "driver",
        "metric": "attack_angle", "matters_from": 1.0, "students": 20, "df": 19.0, "effect": effect,
        "standard_error": 0.3, **more,
    }  # fmt: skip


def test_only_aims_are_shrunk_and_turned_back_to_their_own_sign() -> None:
    rows = [_row("A", -1.0, orientation=-1.0), _row("B", 0.2), _row("C", 0.1), _row("D", 0.0, is_aim=False)]
    found = partial_pooling.shrink_rows(rows)
    assert found[3] is None
    assert found[0] is not None
    assert -1.0 < found[0][0] < -0.1
    assert found[0][1] < found[0][0] < found[0][2]


def test_rows_over_all_clubs_take_the_prior_and_do_not_count_in_it() -> None:
    base = [_row("A", 1.0), _row("B", 0.2), _row("C", 0.1)]
    with_any = [*base, _row("A", 5.0, club_group="any")]
    assert partial_pooling.shrink_rows(with_any)[:3] == partial_pooling.shrink_rows(base)
    assert partial_pooling.shrink_rows(with_any)[3] is not None


def test_fewer_than_three_drills_of_one_aim_are_pooled_over_all_aims_in_smallest_changes() -> None:
    other = [_row("C", 900.0, metric="spin_rate", matters_from=250.0, standard_error=75.0, orientation=1.0)]
    found = partial_pooling.shrink_rows([_row("A", 0.0), _row("B", 0.0), *other])
    assert found[0] is not None
    assert found[0][0] > 0
    assert found[2] is not None
    assert 250 < found[2][0] < 900
