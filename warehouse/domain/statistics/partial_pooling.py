"""Partial pooling of drills' effects, for ranking and prediction; never for a verdict.

Not here: the effects (influence.py), a student's own deviation (responders.py).
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

MIN_DRILLS = 3
MIN_STUDENTS = 5
_GRID = 121


class Pooled(NamedTuple):
    """Between-effects variance tau^2, the pooled mean and its standard error."""

    tau2: float
    mean: float
    error: float


class Posterior(NamedTuple):
    """A grid over tau with weights, and the pooled mean with its variance at each (for new or known effects)."""

    tau2: Floats
    weight: Floats
    mean: Floats
    mean_variance: Floats


def _mean_given(y: Floats, v: Floats, tau2: Floats) -> tuple[Floats, Floats]:
    w = 1.0 / (v[None, :] + tau2[:, None])
    total = w.sum(axis=1)
    return (w * y).sum(axis=1) / total, 1.0 / total


def _restricted_log_likelihood(y: Floats, v: Floats, tau2: Floats) -> Floats:
    mean, variance = _mean_given(y, v, tau2)
    spread = v[None, :] + tau2[:, None]
    squares = ((y[None, :] - mean[:, None]) ** 2 / spread).sum(axis=1)
    return np.asarray(-0.5 * (np.log(spread).sum(axis=1) - np.log(variance) + squares))


def reml(effects: ArrayLike, variances: ArrayLike) -> Pooled:
    """Normal-normal model by restricted maximum likelihood.

    Fisher scoring on tau^2, cut at 0: Viechtbauer (2005), Journal of Educational and Behavioral Statistics 30, 261.
    """
    y, v = np.asarray(effects, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    if y.size == 0:
        return Pooled(np.nan, np.nan, np.nan)
    tau2 = max(float(y.var(ddof=1) - v.mean()), 0.0) if y.size > 1 else 0.0
    for _ in range(500):
        w = 1.0 / (v + tau2)
        # P y and the traces of P and P P for P = W - w w' / sum(w)
        py = w * (y - (w * y).sum() / w.sum())
        trace = w.sum() - (w**2).sum() / w.sum()
        double = (w**2).sum() - 2 * (w**3).sum() / w.sum() + ((w**2).sum() / w.sum()) ** 2
        step = ((py**2).sum() - trace) / double if double > 0 else 0.0
        new = max(tau2 + step, 0.0)
        if abs(new - tau2) < 1e-12 * (1 + tau2):
            tau2 = new
            break
        tau2 = new
    mean, variance = _mean_given(y, v, np.array([tau2]))
    return Pooled(tau2, float(mean[0]), float(np.sqrt(variance[0])))


def shrink(effects: ArrayLike, variances: ArrayLike, tau2: float) -> tuple[Floats, Floats]:
    """Shrunk effects and their standard deviations for a known tau^2; at tau^2 = 0 every effect is the pooled mean."""
    y, v = np.asarray(effects, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    mean, variance = _mean_given(y, v, np.array([tau2]))
    kept = tau2 / (tau2 + v)
    return kept * y + (1 - kept) * mean[0], np.sqrt(kept * v + (1 - kept) ** 2 * variance[0])


def posterior(effects: ArrayLike, variances: ArrayLike, scale: float) -> Posterior:
    """Carry the uncertainty of tau: a grid weighted by the restricted likelihood and a half-normal prior.

    Parameters
    ----------
    scale : standard deviation of the half-normal prior on tau, in the effects' unit (with two or three drills the
        likelihood alone does not bound tau; Gelman 2006, Bayesian Analysis 1, 515).
    """
    y, v = np.asarray(effects, dtype=np.float64), np.asarray(variances, dtype=np.float64)
    tau = np.linspace(0.0, 4.0 * scale, _GRID)
    log_weight = _restricted_log_likelihood(y, v, tau**2) - 0.5 * (tau / scale) ** 2
    weight = np.exp(log_weight - log_weight.max())
    mean, variance = _mean_given(y, v, tau**2)
    return Posterior(tau**2, weight / weight.sum(), mean, variance)


def shrink_carried(effect: float, variance: float, of: Posterior) -> tuple[float, float]:
    """Posterior mean and standard deviation of one effect; a NaN effect is a new drill's."""
    if np.isfinite(effect) and np.isfinite(variance):
        kept = of.tau2 / (of.tau2 + variance)
        at = kept * effect + (1 - kept) * of.mean
        spread = kept * variance + (1 - kept) ** 2 * of.mean_variance
    else:
        at, spread = of.mean, of.tau2 + of.mean_variance
    mean = float((of.weight * at).sum())
    return mean, float(np.sqrt((of.weight * (spread + (at - mean) ** 2)).sum()))


def shrink_rows(rows: list[dict[str, Any]]) -> list[tuple[float, float, float] | None]:
    """Shrunk effect and 95% interval of every aim row; None for others.

    Effects are turned by their aim and counted in smallest changes that matter; drills with the same aim metric are
    pooled, or all aims where fewer than three drills share one. 'any' rows take the pool's prior but are not in its
    fit, as their episodes are there already.
    """
    from scipy.special import stdtrit

    out: list[tuple[float, float, float] | None] = [None] * len(rows)
    aims = [i for i, row in enumerate(rows) if row["is_aim"] and row["orientation"] and _finite(row)]
    for horizon in {rows[i]["horizon"] for i in aims}:
        here = [i for i in aims if rows[i]["horizon"] == horizon]
        fits = [i for i in here if rows[i]["club_group"] != "any" and rows[i]["students"] >= MIN_STUDENTS]
        for metric in {rows[i]["metric"] for i in here}:
            alike = [i for i in fits if rows[i]["metric"] == metric]
            base = alike if len({rows[i]["drill_id"] for i in alike}) >= MIN_DRILLS else fits
            if not base:
                continue
            y, v = np.array([_scaled(rows[i]) for i in base]).T
            prior = posterior(y, v, scale=2.0)
            for i in (i for i in here if rows[i]["metric"] == metric):
                mean, deviation = shrink_carried(*_scaled(rows[i]), prior)
                half = float(stdtrit(max(rows[i]["df"], 1.0), 0.975)) * deviation
                unit = rows[i]["matters_from"] * rows[i]["orientation"]
                low, high = sorted(((mean - half) * unit, (mean + half) * unit))
                out[i] = mean * unit, low, high
    return out


def _finite(row: dict[str, Any]) -> bool:
    numbers = (row.get("effect"), row.get("standard_error"), row.get("matters_from"))
    return all(n is not None and np.isfinite(n) for n in numbers) and row["matters_from"] > 0


def _scaled(row: dict[str, Any]) -> tuple[float, float]:
    unit = row["matters_from"]
    return row["effect"] * row["orientation"] / unit, (row["standard_error"] / unit) ** 2
