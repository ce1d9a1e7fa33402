"""The design of the comparison: what a block after practice depends on when nobody drilled.

Not here: how the fit is solved or what is made of its residuals (influence.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from warehouse.domain.drill_effect.episodes import Level, Panel
from warehouse.domain.statistics.design_matrix import Levels, Terms
from warehouse.domain.statistics.group_codes import distinct

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

ENOUGH_LESSON_STUDENTS = 5
ENOUGH_LESSON_EPISODES = 10
"""Lessons without a drill needed before practice alone and coaches get terms of their own."""
PRIOR_EPISODES = 10.0
"""Episodes at the mean level that each coach and bay starts with: levels differ little, and free practice in a rarely
seen one would otherwise decide alone what its drill episodes are held against."""


@dataclass(frozen=True)
class Design:
    """(n, p) covariates of all rows, with what could not be learned from free practice.

    `unseen` marks rows with a coach or bay level that free practice never had; `lessons_compared` says whether
    practice alone has its own indicator (else an effect includes the coach's attention). `penalty` (p, p) is the prior
    information on coach and bay levels, the same whatever the levels are called.
    """

    x: Terms
    penalty: Floats
    unseen: Flags
    lessons_compared: bool


def sum_to_zero(codes: NDArray[np.int64], learned: Flags, sign: Floats | None = None) -> tuple[Levels | None, Flags]:
    """Sum-to-zero columns for the levels met in `learned` rows; other levels and -1 get zeros, the mean level.

    Returns
    -------
    levels : the columns, each row's entry times `sign`; None with fewer than two levels.
    unseen : (n,) rows whose level was not met.
    """
    met = np.unique(codes[learned & (codes >= 0)])
    place = np.searchsorted(met, codes)
    known = np.isin(codes, met)
    if met.size < 2:
        return None, (codes >= 0) & ~known
    entry = known * (np.ones(codes.size) if sign is None else sign)
    return Levels(np.where(known, place, 0), met.size, entry), (codes >= 0) & ~known


def _penalty(widths: list[int]) -> Floats:
    """Prior information: none on the first part, then sum of squares of all levels of each sum-to-zero part."""
    out = np.zeros((sum(widths), sum(widths)))
    at = widths[0]
    for width in widths[1:]:
        # The last level is minus the sum of the others, so its square fills the block with ones.
        out[at : at + width, at : at + width] = PRIOR_EPISODES * (np.eye(width) + 1.0)
        at += width
    return out


def _log_shots(shots: Floats) -> Floats:
    return np.log(np.maximum(np.nan_to_num(shots, nan=1.0), 1.0))


def build(
    rows: Panel,
    state: Level,
    x: Floats,
    error: Floats,
    horizon: str,
    mirrored: bool,
    free: Flags,
    bays: bool = True,
) -> Design:
    """Covariates of every row: 1, m, what today's block adds to the usual level and to the day's form, log shots,
    week, coach, bay.

    Parameters
    ----------
    rows, state : the rows and their students' levels.
    x, error : (n,) pre block centred on the club's mean, and its error variance.
    horizon : 'transfer', or 'retention' (bay of both sessions, days between, shots of the next block).
    mirrored : whether a bay's error flips with the golfer's hand in this metric.
    free : (n,) rows the fit is learned from.
    bays : whether bays have terms; their offsets are off the blocks already, so thin free practice does without.

    Notes
    -----
    x - m mixes three things: how far the true usual level is from m (variance P, large for students met for the first
    time), the day's form (s_b^2) and error (v). Each persists differently, so each enters with its own expectation
    given x - m: P/(P + s_b^2 + v) and s_b^2/(P + s_b^2 + v) times x - m (best linear prediction). Terms in x, m and
    the reliability alone leave a student's first visit and hundredth with one slope, and part of the regression to the
    mean in the effect.
    """
    one = np.ones(x.size)
    s_b2 = float(np.nan_to_num(state.components.between_sessions))
    with np.errstate(invalid="ignore", divide="ignore"):
        away = np.nan_to_num((x - state.m) / (state.doubt + s_b2 + error))
    after = rows.shots[2] if horizon == "retention" else rows.shots[1]
    columns = [
        one, x, state.m, state.doubt * away, s_b2 * away,
        _log_shots(rows.shots[0]), _log_shots(after), (rows.week - rows.week.mean()) / 10.0,
    ]  # fmt: skip
    if horizon == "retention":
        columns.append(np.nan_to_num(rows.next_days) / 7.0)
    with_coach = free & (rows.coach >= 0)
    alone = free & (rows.coach < 0)
    lessons = (
        distinct(rows.student[with_coach]) >= ENOUGH_LESSON_STUDENTS and int(with_coach.sum()) >= ENOUGH_LESSON_EPISODES
    )
    if lessons and alone.any():
        columns.append((rows.coach < 0).astype(np.float64))
    found, unseen = [], np.zeros(x.size, dtype=bool)
    for codes in [rows.bay, rows.next_bay][: 2 if horizon == "retention" else 1]:
        bay, not_met = sum_to_zero(codes, free, rows.hand if mirrored else None)
        unseen = unseen | not_met
        found += [bay] if bays else []
    if lessons:
        coach, not_met = sum_to_zero(rows.coach, free)
        unseen = unseen | not_met
        found.append(coach)
    terms = Terms(np.stack(columns, axis=1), tuple(levels for levels in found if levels is not None))
    return Design(terms, _penalty([len(columns), *(of.count - 1 for of in terms.levels)]), unseen, lessons)
