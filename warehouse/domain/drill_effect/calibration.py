"""What an academy's own data say about the method, carried into every interval: lots, placebo drills, trends.

Not here: how placebo drills are made (placebo.py), the estimates themselves (regression.py), verdicts (verdict.py).
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from warehouse.domain.statistics import partial_pooling

Floats = NDArray[np.float64]

MIN_PLACEBOS = 8
MIN_LOTS = 4
TREND_SHARE = 0.5
"""By how much of the spread between students' own trends those who get a drill may differ from others: coaches choose,
and half of the spread is what a clear preference for the fast makes."""


class Null(NamedTuple):
    """Distribution of systematic error: its mean and standard deviation."""

    mean: float
    spread: float


class Lots(NamedTuple):
    """How much more chosen drills seem to do than drawn ones: mean lean with its error, spread between drills beyond
    noise, and the drills it rests on."""

    lean: float
    error: float
    spread: float
    drills: int


def empirical_null(estimates: ArrayLike, errors: ArrayLike) -> Null:
    """Fit the systematic error of estimates whose truth is zero.

    Notes
    -----
    Estimates are N(mean, spread^2 + error^2); maximum likelihood, after Schuemie et al. (2014), Statistics in Medicine
    33, 209, section 2.
    """
    from scipy.optimize import minimize_scalar

    y, v = np.asarray(estimates, dtype=np.float64), np.asarray(errors, dtype=np.float64) ** 2
    if y.size == 0:
        return Null(np.nan, np.nan)

    def mean(spread2: float) -> float:
        w = 1 / (v + spread2)
        return float((w * y).sum() / w.sum())

    def loss(spread2: float) -> float:
        whole = v + spread2
        return float((np.log(whole) + (y - mean(spread2)) ** 2 / whole).sum())

    most = float(y.var() + (y.mean() ** 2)) + 1e-300
    found = minimize_scalar(loss, bounds=(0.0, most), method="bounded", options={"xatol": 1e-10 * most})
    spread2 = float(found.x) if loss(float(found.x)) < loss(0.0) else 0.0
    return Null(mean(spread2), float(np.sqrt(spread2)))


def beyond_luck(estimates: ArrayLike, errors: ArrayLike) -> float:
    """Return the standard deviation of systematic error that placebo estimates show, 0 where luck explains them.

    The fitted spread is trusted as far as it stands out from its own error (positive-part shrinkage), so that an
    academy without systematic error is not made to pay for chance.
    """
    y, v = np.asarray(estimates, dtype=np.float64), np.asarray(errors, dtype=np.float64) ** 2
    null = empirical_null(y, np.sqrt(v))
    if not np.isfinite(null.spread) or null.spread == 0:
        return 0.0
    information = 0.5 * float((1 / (v + null.spread**2) ** 2).sum())
    z2 = null.spread**4 * information
    return null.spread * float(np.sqrt(max(1 - 1 / z2, 0.0)))


def _aims(rows: list[dict[str, Any]], horizon: str, *needed: str) -> list[dict[str, Any]]:
    """Aim rows of one horizon and one club group that have all of these numbers."""
    return [
        row for row in rows
        if row["is_aim"] and row["horizon"] == horizon and row["club_group"] != "any" and row["orientation"]
        and row["matters_from"] > 0 and all(np.isfinite(row.get(name, np.nan)) for name in needed)
    ]  # fmt: skip


def lots(rows: list[dict[str, Any]], horizon: str) -> Lots:
    """Pool chosen less drawn over drills' aims, up is better, in smallest changes that matter."""
    able = _aims(rows, horizon, "chosen_less_drawn", "chosen_less_drawn_error")
    able = [row for row in able if row["chosen_less_drawn_error"] > 0]
    if len(able) < MIN_LOTS:
        return Lots(0.0, 0.0, 0.0, len(able))
    unit = np.array([row["matters_from"] for row in able])
    turned = np.array([row["chosen_less_drawn"] * row["orientation"] for row in able]) / unit
    of = partial_pooling.reml(turned, (np.array([row["chosen_less_drawn_error"] for row in able]) / unit) ** 2)
    return Lots(of.mean, of.error, float(np.sqrt(of.tau2)), len(able))


def calibrate(rows: list[dict[str, Any]]) -> None:
    """Carry what lots, placebo drills and trends show into effects and errors, in place.

    Notes
    -----
    Lots: the lean of chosen over drawn is taken off what was chosen, as far as it stands out from its error, and its
    error and spread are carried. Placebo drills: their spread beyond luck widens (Schuemie et al. 2018, Proceedings of
    the National Academy of Sciences 115, 2571). Trends: `TREND_SHARE` of the spread between students' own.
    """
    for horizon in ("transfer", "retention"):
        placebos = [row for row in _aims(rows, horizon, "placebo_effect", "placebo_error") if row["placebo_error"] > 0]
        spread = 0.0
        if len(placebos) >= MIN_PLACEBOS:
            unit = np.array([row["matters_from"] for row in placebos])
            effect, error = (np.array([row[name] for row in placebos]) / unit
                             for name in ("placebo_effect", "placebo_error"))  # fmt: skip
            spread = beyond_luck(effect, error)
        lean = lots(rows, horizon)
        trust = max(1 - (lean.error / lean.lean) ** 2, 0.0) if lean.lean else 0.0
        for row in rows:
            if row["horizon"] == horizon and row["measure"] != "spread" and np.isfinite(row.get("effect", np.nan)):
                _carry(row, spread, lean, trust)


def _carry(row: dict[str, Any], spread: float, lean: Lots, trust: float) -> None:
    """Take the lean off one row and widen it."""
    chosen = 1 - (row["drawn_share"] or 0.0)
    size = row["matters_from"] if np.isfinite(row["matters_from"]) else 0.0
    trend = TREND_SHARE * row.get("per_weekly_gain", 0.0) * row.get("trend_spread", 0.0)
    added = (spread * size) ** 2 + (chosen * np.nan_to_num(trend)) ** 2
    if row["is_aim"] and trust > 0:
        taken = trust * lean.lean * chosen * size * row["orientation"]
        row["lean_removed"] = taken
        for name in ("effect", "check_effect"):
            row[name] = row[name] - taken
        added += (chosen * size) ** 2 * trust * (lean.error**2 + lean.spread**2)
    row["widened_by"] = float(np.sqrt(added))
    for name in ("standard_error", "check_error"):
        row[name] = float(np.sqrt(row[name] ** 2 + added))
