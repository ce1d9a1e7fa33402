"""Placebo drills: free practice of the same students, chosen as a drill's episodes were, run as if it were the drill.

What they show beyond zero is no drill's doing: students who get a drill differ in more than what is accounted for. Not
here: what is made of it (calibration.py).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from warehouse.domain.drill_effect import regression
from warehouse.domain.drill_effect.drill import Part

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]

WEEKS_APART = 6.0
OTHER_COACH, OTHER_BAY = 0.5, 0.25
"""What a placebo's match costs, in standard deviations of how bad a block was: so many weeks, another coach or bay."""


def matched(of: Part) -> Codes:
    """Return for each of a drill's episodes the place of the student's most alike free-practice episode; -1: none.

    Alike: as far below the usual level before it, near in time, the same coach and bay. One may stand in for several.
    """
    rows, side = of.of.rows, of.side
    free = np.flatnonzero(of.fitted.free & np.isfinite(side) & (rows.student >= 0))
    out = np.full(of.rows.size, -1, dtype=np.int64)
    if not free.size or not of.rows.size:
        return out
    free = free[np.argsort(rows.student[free], kind="stable")]
    start = np.searchsorted(rows.student[free], rows.student[of.rows], "left")
    count = np.searchsorted(rows.student[free], rows.student[of.rows], "right") - start
    episode = np.repeat(np.arange(of.rows.size), count)
    if not episode.size:
        return out
    candidate = free[np.arange(episode.size) - np.repeat(np.cumsum(count) - count, count) + np.repeat(start, count)]
    drill = of.rows[episode]
    away = of.of.before - of.of.state.club_mean - of.of.state.m
    spread = float(away[free].std()) or 1.0
    cost = (
        np.abs(away[drill] - away[candidate]) / spread
        + np.abs(rows.week[drill] - rows.week[candidate]) / WEEKS_APART
        + OTHER_COACH * (rows.coach[drill] != rows.coach[candidate])
        + OTHER_BAY * (rows.bay[drill] != rows.bay[candidate])
    )
    order = np.lexsort((candidate, cost, episode))
    found, first = np.unique(episode[order], return_index=True)
    out[found] = candidate[order][first]
    return out


def estimated(parts: list[Part]) -> regression.Effect:
    """Effect of the placebo drill that stands for a drill's episodes."""
    chosen = []
    for p in parts:
        places = matched(p)
        chosen.append((p.fitted, places[places >= 0]))
    return regression.effect(chosen, [p.side for p in parts])
