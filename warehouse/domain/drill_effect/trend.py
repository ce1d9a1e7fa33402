"""How much students improve by themselves, and how far they differ in it: what could pass for a drill's effect.

Not here: what is made of it (calibration.py, verdict.py).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from warehouse.domain.drill_effect.episodes import Level, Panel
from warehouse.domain.statistics import partial_pooling
from warehouse.domain.statistics.group_codes import numbered

Floats = NDArray[np.float64]

MIN_DAYS, MIN_WEEKS, MIN_STUDENTS = 4, 3.0, 10


class Slopes(NamedTuple):
    """Mean weekly change of students (unit of the measure a week), its standard deviation between students beyond
    noise, and how many it rests on; NaN where too few."""

    mean: float
    spread: float
    students: int


def between_students(rows: Panel, value: Floats, state: Level) -> Slopes:
    """Fit a line by week to each student's first blocks with a club and tell the lines apart from noise.

    Parameters
    ----------
    value : (n,) pre-block values of `rows`.

    Notes
    -----
    Least squares within student and club, residual variance pooled; between-slope variance by REML.
    """
    first = rows.first & np.isfinite(value) & (rows.student >= 0)
    nothing = Slopes(np.nan, np.nan, 0)
    if not first.any():
        return nothing
    _, unit, n = numbered(rows.student[first] * (int(rows.club.max(initial=0)) + 1) + rows.club[first])
    y, week = (value - state.club_mean)[first], rows.day[first] / 7.0
    y, t = (of - (np.bincount(unit, of) / n)[unit] for of in (y, week))
    room = np.bincount(unit, t**2)
    slope = np.bincount(unit, t * y) / np.where(room > 0, room, 1.0)
    left = y - slope[unit] * t
    freedom = float(np.clip(n - 2, 0, None).sum())
    able = (n >= MIN_DAYS) & (room >= MIN_DAYS * (MIN_WEEKS / 2) ** 2)
    if able.sum() < MIN_STUDENTS or freedom <= 0:
        return nothing
    noise = float((left[(n > 2)[unit]] ** 2).sum()) / freedom
    if noise <= 0:
        return nothing
    of = partial_pooling.reml(slope[able], noise / room[able])
    return Slopes(of.mean, float(np.sqrt(of.tau2)), int(able.sum()))
