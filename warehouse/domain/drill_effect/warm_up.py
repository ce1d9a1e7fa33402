"""How far a block lags because the golfer is still warming up, and what balls hit with a drill do about it.

A drill's second block starts after the drill's own balls, so it is warmer than a free-practice block after as many free
shots: that is practice, not the drill. Not here: the comparison fit (influence.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from warehouse.domain.drill_effect.episodes import Level, Panel
from warehouse.domain.statistics.group_codes import numbered

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

LENGTH = 6.0
"""Shots over which a cold start fades to 1/e (common practice, no source: a golfer is warm after some 20 balls). First
blocks of 6 to 24 shots tell how large the lag is, hardly how long it lasts; a length chosen by fit did worse."""
MIN_BLOCKS = 100
WARM_AFTER = 40.0
"""Shots hit before a block that is not a session's first, when nobody counted them: a drill and a block at least."""


@dataclass(frozen=True)
class WarmUp:
    """`size` how far the very first ball lags, unit of the metric; `length` in shots; `bread` 1/sum of squares of the
    centred curve and `scores` (students,) its influence: size's error is bread times the sum of scores."""

    size: float
    length: float
    bread: float
    scores: Floats


def lag(begins: Floats, shots: Floats, length: float) -> Floats:
    """Mean of exp(-position/length) over a block of `shots` that begins after `begins` shots."""
    n = np.maximum(shots, 1.0)
    return np.exp(-begins / length) * (length / n) * (1 - np.exp(-n / length))


def learn(rows: Panel, value: Floats, state: Level, students: int) -> WarmUp | None:
    """Fit the lag of first blocks against their number of shots, within student and club; None where there are few.

    First blocks start cold; longer ones hold more warm shots. How many shots a golfer hits before the first drill or
    the split says nothing about the day's form, so the difference is the warm-up.
    """
    first = rows.first & np.isfinite(value) & (rows.shots[0] > 0) & (rows.student >= 0)
    if int(first.sum()) < MIN_BLOCKS:
        return None
    student, n = rows.student[first], rows.shots[0][first]
    unit = numbered(student * (int(rows.club.max(initial=0)) + 1) + rows.club[first])[1]
    y = _within((value - state.club_mean)[first], unit)
    curve = _within(lag(np.zeros(n.size), n, LENGTH), unit)
    room = float((curve**2).sum())
    if room <= 1e-9:
        return None
    slope = float((curve * y).sum()) / room
    scores = np.bincount(student, curve * (y - slope * curve), students).astype(np.float64)
    error2 = float((scores**2).sum()) / room**2
    # Where the data hardly show a warm-up, little is allowed for (positive-part shrinkage).
    trust = max(1 - error2 / slope**2, 0.0) if slope else 0.0
    return WarmUp(trust * slope, LENGTH, trust / room, scores)


def _within(x: Floats, unit: NDArray[np.int64]) -> Floats:
    return x - (np.bincount(unit, x) / np.bincount(unit))[unit]


def head_start(rows: Panel, curve: WarmUp) -> tuple[Floats, Floats]:
    """What the drill's balls are worth at the curve's unit size: (n,) for the second block, (n,) for the first.

    The first is how much colder the block would be had it opened the session as free practice does (0 for blocks that
    did), the second how much colder the block after would be without the balls hit with the drill. Both are negative
    lags; nothing is said (0) where the balls with the drill were not counted, nor for free practice.
    """
    n, after = rows.shots[0], rows.shots[1]
    known = (rows.drill >= 0) & np.isfinite(rows.drill_shots)
    before = np.where(rows.first, 0.0, WARM_AFTER)
    cold = lag(np.zeros(n.size), n, curve.length) - lag(before, n, curve.length)
    as_practice = lag(n, after, curve.length)
    as_hit = lag(before + n + np.nan_to_num(rows.drill_shots), after, curve.length)
    return np.where(known, as_hit - as_practice, 0.0), np.where(known & ~rows.first, cold, 0.0)
