"""Intervals that hold at every look at once, however often and whenever one looks: normal mixture.

The alternative to planned looks (trial_boundary): wider, but nothing needs planning. Not here: what is decided.
"""

from __future__ import annotations

from math import inf, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


class Interval(NamedTuple):
    """Ends of an interval, unit of the estimate."""

    low: float
    high: float


def likelihood_ratio(estimate: ArrayLike, error: ArrayLike, scale: float, null: float = 0.0) -> Floats:
    """Mixture likelihood ratio of "some difference" to "exactly `null`".

    Parameters
    ----------
    estimate, error : (...,) difference and its standard error so far.
    scale : standard deviation of the differences mixed over, about the size expected; the smallest change that matters
        is a good choice. Any fixed choice is valid; it only decides where the interval is tightest.

    Notes
    -----
    Mean over theta ~ N(null, scale^2) of the likelihood ratio (Robbins 1970, Ann Math Stat 41:1397); under no
    difference it exceeds 1/alpha at any time with chance alpha at most (Ville 1939). As an experiment's always-valid
    p-value: Johari, Koomen, Pekelis & Walsh 2022, Oper Res 70:1806.
    """
    off, v = np.asarray(estimate, dtype=np.float64) - null, np.asarray(error, dtype=np.float64) ** 2
    ratio = scale**2 / (v + scale**2)
    with np.errstate(over="ignore"):
        return np.asarray(np.sqrt(v / (v + scale**2)) * np.exp(0.5 * ratio * off**2 / v))


def confidence_sequence(estimate: float, error: float, scale: float, alpha: float = 0.05) -> Interval:
    """Interval that holds the true difference at all looks together with chance 1 - alpha at least.

    The differences whose likelihood ratio stays under 1/alpha: estimate +- error sqrt((v + s^2)/s^2 log((v + s^2)/(v
    alpha^2))).
    """
    if not error > 0:
        return Interval(-inf, inf)
    v, s2 = error**2, scale**2
    half = error * sqrt((v + s2) / s2 * np.log((v + s2) / (v * alpha**2)))
    return Interval(estimate - half, estimate + half)


def always_valid_p(estimates: ArrayLike, errors: ArrayLike, scale: float) -> Floats:
    """Always-valid p-value after each look, shape (looks,): the smallest 1/ratio so far, 1 at most."""
    ratio = likelihood_ratio(estimates, errors, scale)
    return np.minimum(1.0, 1.0 / np.maximum.accumulate(ratio))


def widened(error: float, df: float) -> float:
    """Standard error made wider for being estimated, so that a normal's far tail stands for the t distribution's.

    Matched where the interval's ends usually are (two-sided .005); checked by simulation, not exact. Infinite under
    five degrees of freedom, where no look is worth taking.
    """
    from scipy.special import ndtri, stdtrit

    return error * float(stdtrit(df, 0.9975)) / float(ndtri(0.9975)) if df >= 5 else inf


def too_many(events: int, trials: int, tolerated: float, most: float = 1.0) -> float:
    """Evidence that events come more often than `tolerated`: an e-value; at 1/alpha the rate is too high.

    Notes
    -----
    Likelihood ratio to a rate of `tolerated`, averaged over rates uniform between it and `most`. For any true rate up
    to `tolerated` it exceeds 1/alpha at any time with chance alpha at most (Ville 1939), so events can be counted as
    they come.
    """
    from scipy.special import betainc, betaln

    if not 0 <= events <= trials or not 0 < tolerated < most <= 1:
        raise ValueError("events are between 0 and trials, tolerated between 0 and most")
    a, b = events + 1.0, trials - events + 1.0
    inside = float(betainc(a, b, most) - betainc(a, b, tolerated))
    if inside <= 0:
        return 0.0
    log_mean = betaln(a, b) + np.log(inside) - np.log(most - tolerated)
    return float(np.exp(log_mean - events * np.log(tolerated) - (trials - events) * np.log1p(-tolerated)))
