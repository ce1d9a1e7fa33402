"""Group-sequential boundaries against the published tables."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from warehouse.domain.trials import confidence_sequence, group_sequential


@pytest.mark.parametrize(
    ("looks", "pocock", "obrien_fleming"),
    # Jennison & Turnbull 2000, Group Sequential Methods, tables 2.1 and 2.3, alpha .05. From memory.
    [(2, 2.178, 1.977), (3, 2.289, 2.004), (4, 2.361, 2.024), (5, 2.413, 2.040), (10, 2.555, 2.087)],
)
def test_boundaries_are_the_published_ones(looks: int, pocock: float, obrien_fleming: float) -> None:
    assert group_sequential.boundary("pocock", looks) == pytest.approx(np.full(looks, pocock), abs=6e-4)
    shape = np.sqrt(looks / np.arange(1, looks + 1))
    assert group_sequential.boundary("obrien-fleming", looks) == pytest.approx(obrien_fleming * shape, rel=3e-4)


@pytest.mark.parametrize(
    ("looks", "chance"),
    # Armitage, McPherson & Rowe 1969, table 2: testing at a nominal 5% again and again. From memory.
    [(1, 0.050), (2, 0.083), (3, 0.107), (4, 0.126), (5, 0.142), (10, 0.193), (20, 0.248)],
)
def test_looking_again_at_five_percent_alarms_as_often_as_published(looks: int, chance: float) -> None:
    crossed = group_sequential.crossing(np.full(looks, 1.959964), np.arange(1, looks + 1) / looks)
    assert crossed.above.sum() + crossed.below.sum() == pytest.approx(chance, abs=6e-4)


def test_spending_boundaries_are_those_of_standard_software() -> None:
    # Lan & DeMets 1983; five equal looks, two-sided .05, as standard software prints them. From memory.
    share = np.arange(1, 6) / 5
    assert group_sequential.spending_boundary("obrien-fleming", share) == pytest.approx(
        [4.877, 3.357, 2.680, 2.290, 2.031], abs=1e-3
    )
    assert group_sequential.spending_boundary("pocock", share) == pytest.approx(
        [2.438, 2.427, 2.410, 2.397, 2.386], abs=1e-3
    )


@pytest.mark.parametrize(
    ("kind", "looks", "ratio"),
    # Jennison & Turnbull 2000, tables 2.2 and 2.4, alpha .05, power .9. From memory.
    [("pocock", 2, 1.100), ("pocock", 5, 1.207), ("obrien-fleming", 2, 1.007), ("obrien-fleming", 5, 1.026)],
)
def test_what_looks_cost_in_students_is_as_published(kind: str, looks: int, ratio: float) -> None:
    assert group_sequential.inflation(kind, looks, power=0.9) == pytest.approx(ratio, abs=1e-3)


@pytest.mark.parametrize(("kind", "ratio"), [("pocock", 1.166), ("obrien-fleming", 1.017)])
def test_what_three_looks_cost_at_the_power_planned_with_is_as_published(kind: str, ratio: float) -> None:
    # Jennison & Turnbull 2000, tables 2.2 and 2.4, alpha .05, power .8, three looks. From memory.
    assert group_sequential.inflation(kind, 3) == pytest.approx(ratio, abs=1e-3)


def limits_of(kind: str, share: np.ndarray, times: float, fixed: float) -> np.ndarray:
    """Return the limits of |z| that a look goes by: alpha spent, or the always-valid interval itself at that error."""
    if kind in group_sequential.SPENDINGS:
        return group_sequential.spending_boundary(kind, share)
    errors = 1 / (fixed * np.sqrt(times * share))
    return np.array([confidence_sequence.confidence_sequence(0.0, error, 1.0).high / error for error in errors])


@pytest.mark.parametrize("kind", [*group_sequential.SPENDINGS, "always valid"])
def test_with_the_students_added_for_looks_the_power_is_the_one_promised(kind: str) -> None:
    """Counted on simulated paths by the limits that looks go by, not by the boundary that the cost is reckoned with."""
    share, fixed, paths = np.arange(1, 4) / 3, norm.ppf(0.975) + norm.ppf(0.80), 40_000
    by_plan = kind in group_sequential.SPENDINGS
    times = group_sequential.inflation(kind, 3) if by_plan else group_sequential.inflation_always_valid(3)
    rng = np.random.default_rng(11)
    noise = np.cumsum(rng.normal(size=(paths, 3)), axis=1) / np.sqrt(np.arange(1, 4))

    def found(more: float, effect: float) -> float:
        z = noise + effect * fixed * np.sqrt(more * share)
        return float((np.abs(z) >= limits_of(kind, share, more, fixed)).any(axis=1).mean())

    # Three binomial errors of 40,000 paths are .006; alpha spent and the boundary of the cost differ by .003.
    assert found(times, 1.0) == pytest.approx(0.80, abs=0.009)
    assert found(times, 0.0) <= 0.05 + 0.0033
    if kind != "obrien-fleming":  # its looks cost under .02
        assert found(1.0, 1.0) < 0.76


def test_an_always_valid_rule_looked_at_once_costs_what_its_limit_says() -> None:
    fixed, times = norm.ppf(0.975) + norm.ppf(0.80), group_sequential.inflation_always_valid(1)
    limit = limits_of("always valid", np.ones(1), times, fixed)[0]
    assert times == pytest.approx(((limit + norm.ppf(0.80)) / fixed) ** 2, rel=1e-6)


@pytest.mark.parametrize("kind", group_sequential.SPENDINGS)
@pytest.mark.parametrize("share", [[0.31, 0.55, 0.56, 1.0], [0.05, 1.0], [1.0], [0.2, 0.4, 0.7, 0.9, 1.0]])
def test_all_of_alpha_and_no_more_is_spent_whenever_looks_come(kind: str, share: list[float]) -> None:
    limits = group_sequential.spending_boundary(kind, share)
    crossed = group_sequential.crossing(limits, share)
    assert crossed.above.sum() + crossed.below.sum() == pytest.approx(0.05, abs=2e-6)


def test_integration_agrees_with_simulated_paths() -> None:
    share, rng = np.array([0.2, 0.5, 1.0]), np.random.default_rng(5)
    limits = group_sequential.boundary("pocock", 3)
    steps = np.diff(share, prepend=0.0)
    score = np.cumsum(rng.normal(size=(200_000, 3)) * np.sqrt(steps) + 2.0 * steps, axis=1)
    out = np.abs(score / np.sqrt(share)) > limits
    counted = [(out[:, k] & ~out[:, :k].any(1)).mean() for k in range(3)]
    crossed = group_sequential.crossing(limits, share, drift=2.0)
    assert crossed.above + crossed.below == pytest.approx(counted, abs=0.004)


def test_where_there_is_a_difference_looks_save_students_on_average() -> None:
    assert group_sequential.expected_information("obrien-fleming", 5, drift=3.24) < 0.85


@pytest.mark.parametrize("share", [[0.5, 0.4], [0.0, 1.0], []])
def test_information_that_does_not_rise_is_refused(share: list[float]) -> None:
    with pytest.raises(ValueError):
        group_sequential.spending_boundary("pocock", share)
