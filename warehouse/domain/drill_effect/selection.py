"""Balls that a bay did not measure: how far a drill that changes how many are lost could seem to do something by that.

Not here: lost balls as a side effect of their own (side_effects.py).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from warehouse.domain.drill_effect.drill import Part
from warehouse.domain.statistics.group_codes import numbered

Floats = NDArray[np.float64]

LEAST, CLEAR = 0.02, 2.5
"""A change of the share measured that is smaller than this, or than so many of its standard errors, counts as none."""


class Measured(NamedTuple):
    """Change of the share of balls measured beyond free practice's, its standard error by students, and by how much at
    most the mean of those measured is shifted by it (unit of the metric)."""

    change: float
    error: float
    shift: float


def trimmed_shift(share: float, deviation: float) -> float:
    """Return how far the mean of normal values moves when a share of them is cut off at one end.

    Notes
    -----
    deviation x phi(z) / (1 - share), z the normal quantile of 1 - share: the trimming bound of Lee (2009), Review of
    Economic Studies 76, 1071, for normal values.
    """
    from scipy.special import ndtri

    if not (np.isfinite(share) and np.isfinite(deviation)) or share <= 0:
        return 0.0
    cut = min(share, 0.5)
    return float(deviation * np.exp(-0.5 * ndtri(1 - cut) ** 2) / np.sqrt(2 * np.pi) / (1 - cut))


def _by_student(change: Floats, student: NDArray[np.int64]) -> tuple[float, float]:
    """Mean over episodes and the variance of that mean, students as the unit."""
    _, back, n = numbered(student)
    mean = float(change.mean())
    psi = np.bincount(back, change - mean) / change.size
    g = n.size
    return mean, float((psi**2).sum()) * g / max(g - 1, 1)


def measured(parts: list[Part]) -> Measured:
    """Hold the share of balls measured after against before, for a drill's episodes and for free practice."""
    changes: list[list[Floats]] = [[], []]
    who: list[list[NDArray[np.int64]]] = [[], []]
    deviation = []
    for p in parts:
        rows = p.of.rows
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.minimum(rows.shots[:2] / rows.balls, 1.0)
        change = share[1] - share[0]
        for kind, places in enumerate((p.rows, np.flatnonzero(p.fitted.free))):
            known = places[np.isfinite(change[places])]
            changes[kind].append(change[known])
            who[kind].append(rows.student[known])
        deviation.append(np.sqrt(rows.variance[1][p.rows] * rows.shots[1][p.rows]))
    drill, free = (np.concatenate(of) for of in changes)
    if drill.size < 2 or free.size < 2:
        return Measured(np.nan, np.nan, 0.0)
    (mean, variance), (usual, variance_free) = (
        _by_student(change, np.concatenate(of)) for change, of in ((drill, who[0]), (free, who[1]))
    )
    beyond, error = mean - usual, float(np.sqrt(variance + variance_free))
    clear = abs(beyond) >= LEAST and abs(beyond) > CLEAR * error
    shift = trimmed_shift(abs(beyond), float(np.nanmean(np.concatenate(deviation)))) if clear else 0.0
    return Measured(beyond, error, shift)
