"""Group-sequential boundaries: how far an interim result must lie out so that looking again and again costs nothing.

By recursive numerical integration of the joint distribution of interim z values (Armitage, McPherson & Rowe 1969, J R
Stat Soc A 132:235; Jennison & Turnbull 2000, ch. 19). Not here: what is decided at a look (trial_monitor).
"""

from __future__ import annotations

from collections.abc import Callable
from math import sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

SPENDINGS = ("obrien-fleming", "pocock")
_POINTS = 24
"""Gauss-Legendre points a piece of eight standard errors of the step; with twice as many no boundary moves by 1e-6."""
_FAR = 8.5
"""Beyond this many standard errors a normal has less than 2e-17."""


class Crossing(NamedTuple):
    """Chance of first crossing at each look, shape (looks,): `above` the upper boundary, `below` the lower."""

    above: Floats
    below: Floats


def _phi(x: Floats) -> Floats:
    return np.exp(-0.5 * x * x) / sqrt(2 * np.pi)


def _nodes(low: float, high: float, step: float) -> tuple[Floats, Floats]:
    """Gauss-Legendre nodes and weights over [low, high] in pieces no wider than eight steps."""
    point, weight = np.polynomial.legendre.leggauss(_POINTS)
    edges = np.linspace(low, high, max(int(np.ceil((high - low) / (8 * step))), 1) + 1)
    half, middle = np.diff(edges) / 2, (edges[1:] + edges[:-1]) / 2
    return (middle[:, None] + half[:, None] * point).ravel(), (half[:, None] * weight).ravel()


class _Path:
    """The density of the score S = z sqrt(t) among trials still going, information scaled to 1 at the last look."""

    def __init__(self, drift: float) -> None:
        self.drift = drift
        self.at = 0.0
        self.where, self.mass = np.zeros(1), np.ones(1)

    def crossing(self, upper: float, lower: float, at: float) -> tuple[float, float]:
        """Chance that the next look, at information `at`, is above or below, boundaries on the z scale."""
        from scipy.special import ndtr

        step, reach = sqrt(at - self.at), sqrt(at)
        mean = self.where + self.drift * (at - self.at)
        above = float((self.mass * ndtr((mean - upper * reach) / step)).sum())
        below = float((self.mass * ndtr((lower * reach - mean) / step)).sum())
        return above, below

    def advance(self, upper: float, lower: float, at: float) -> None:
        """Go on with what stays between the boundaries."""
        step, reach = sqrt(at - self.at), sqrt(at)
        mean = self.where + self.drift * (at - self.at)
        low = max(lower * reach, float(mean.min()) - _FAR * step)
        high = min(upper * reach, float(mean.max()) + _FAR * step)
        where, weight = _nodes(low, high, step)
        self.mass = weight * (_phi((where[:, None] - mean) / step) / step @ self.mass)
        self.where, self.at = where, at


def crossing(upper: ArrayLike, information: ArrayLike, drift: float = 0.0, lower: ArrayLike | None = None) -> Crossing:
    """Chance of stopping at each look.

    Parameters
    ----------
    upper, lower : (looks,) boundaries of z; `lower` is -upper where left out.
    information : (looks,) share of the whole information at each look, rising.
    drift : expected z at full information; 0 under no difference.
    """
    up, share = np.asarray(upper, dtype=np.float64), np.asarray(information, dtype=np.float64)
    down = -up if lower is None else np.asarray(lower, dtype=np.float64)
    if share.size != up.size or share.min() <= 0 or (np.diff(share) <= 0).any():
        raise ValueError("information rises from above 0, one share a look")
    path, out = _Path(drift), []
    for u, d, t in zip(up, down, share, strict=True):
        out.append(path.crossing(float(u), float(d), float(t)))
        path.advance(float(u), float(d), float(t))
    above, below = np.array(out).T
    return Crossing(above, below)


def _shape(kind: str, information: Floats) -> Floats:
    if kind not in SPENDINGS:
        raise ValueError(f"a boundary is one of {SPENDINGS}")
    return np.ones(information.size) if kind == "pocock" else np.sqrt(information[-1] / information)


def boundary(kind: str, looks: int, alpha: float = 0.05) -> Floats:
    """Two-sided boundary of z for equally spaced looks, shape (looks,).

    Notes
    -----
    pocock: the same z at every look (Pocock 1977, Biometrika 64:191). obrien-fleming: C sqrt(looks/k) (O'Brien &
    Fleming 1979, Biometrics 35:549).
    """
    from scipy.optimize import brentq

    share = np.arange(1, looks + 1) / looks
    shape = _shape(kind, share)

    def excess(size: float) -> float:
        chance = crossing(size * shape, share)
        return float(chance.above.sum() + chance.below.sum()) - alpha

    return float(brentq(excess, 1.0, 6.0, xtol=1e-10)) * shape


def spent(kind: str, information: ArrayLike, alpha: float = 0.05) -> Floats:
    """Two-sided alpha that may be spent by each share of information (Lan & DeMets 1983, Biometrika 70:659)."""
    from scipy.special import ndtr, ndtri

    share = np.clip(np.asarray(information, dtype=np.float64), 1e-12, 1.0)
    if kind not in SPENDINGS:
        raise ValueError(f"a boundary is one of {SPENDINGS}")
    if kind == "pocock":
        return np.asarray(alpha * np.log1p((np.e - 1) * share))
    # Each side spends its half by O'Brien and Fleming's form: 2 (1 - Phi(z_{alpha/4} / sqrt(t))) of alpha/2.
    return np.asarray(4.0 * ndtr(ndtri(alpha / 4) / np.sqrt(share)))


def _over(path: _Path, at: float, wanted: float) -> Callable[[float], float]:
    return lambda z: path.crossing(z, -z, at)[0] - wanted


def spending_boundary(kind: str, information: ArrayLike, alpha: float = 0.05) -> Floats:
    """Two-sided boundary of z for looks at any shares of information, chosen by spending alpha as they come.

    Parameters
    ----------
    information : (looks,) rising shares; looks need not be planned, only not chosen by their results.
    """
    from scipy.optimize import brentq
    from scipy.special import ndtri

    share = np.asarray(information, dtype=np.float64)
    if share.size == 0 or share.min() <= 0 or (np.diff(share) <= 0).any():
        raise ValueError("information rises from above 0")
    path, out, before = _Path(0.0), [], 0.0
    for t, total in zip(share, spent(kind, share, alpha), strict=True):
        wanted = (float(total) - before) / 2
        before = float(total)
        top = 9.0
        if path.crossing(top, -top, float(t))[0] >= wanted:
            limit = top
        elif path.at == 0.0:
            limit = -float(ndtri(wanted))
        else:
            limit = float(brentq(_over(path, float(t), wanted), 0.0, top, xtol=1e-10))
        out.append(limit)
        if len(out) < share.size:
            path.advance(limit, -limit, float(t))
    return np.array(out)


def inflation(kind: str, looks: int, alpha: float = 0.05, power: float = 0.80) -> float:
    """Most information a trial with looks needs, over that of one without, for the same power."""
    from scipy.optimize import brentq
    from scipy.special import ndtri

    limits, share = boundary(kind, looks, alpha), np.arange(1, looks + 1) / looks
    fixed = float(ndtri(1 - alpha / 2) + ndtri(power))
    drift = brentq(lambda d: float(crossing(limits, share, d).above.sum()) - power, 0.5 * fixed, 2 * fixed)
    return float((drift / fixed) ** 2)


def inflation_always_valid(looks: int, alpha: float = 0.05, power: float = 0.80) -> float:
    """Most information a trial with an always-valid rule needs, over that of one without looks, for the same power.

    Where the difference is the one that the rule's mixture has as its scale (the smallest change that matters), and
    looks are equally spaced; more looks find it a little sooner.
    """
    from scipy.optimize import brentq
    from scipy.special import ndtri

    share, fixed = np.arange(1, looks + 1) / looks, float(ndtri(1 - alpha / 2) + ndtri(power))

    def excess(times: float) -> float:
        # Error variance in units of the scale's square: at the end of a trial without looks it is 1 / fixed^2.
        v = 1 / (fixed**2 * times * share)
        limits = np.sqrt((v + 1) * np.log((v + 1) / (v * alpha**2)))
        return float(crossing(limits, share, fixed * sqrt(times)).above.sum()) - power

    return float(brentq(excess, 1.0, 6.0))


def expected_information(kind: str, looks: int, drift: float, alpha: float = 0.05) -> float:
    """Mean share of the full information used where looks may stop the trial, at a true drift."""
    limits, share = boundary(kind, looks, alpha), np.arange(1, looks + 1) / looks
    stop = np.add(*crossing(limits, share, drift))
    return float((stop * share).sum() + (1 - stop.sum()) * 1.0)
