"""Where in a lesson a logged drill begins and ends, and how sure that is; and whether an unlogged lesson had one.

A mark is moved to the pause that fits it best, begin and end together. Not here: what a pause looks like (pauses.py),
tables (models/stage/drill_timing.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from warehouse.domain.drill_log.pauses import MIN_GAPS, Gaps, judge
from warehouse.schema.episode_core import TIMINGS

Floats = NDArray[np.float64]

TAPPED_SECONDS, REMEMBERED_SECONDS = 20.0, 120.0
"""How far off a mark is that was tapped in the bay, and one written down from memory."""
ASTRAY, ASTRAY_WITHIN = 0.02, 1200.0
"""Share of marks that say nothing, and the seconds over which they may lie."""
FEWEST_BALLS, MOST_BALLS = 8, 22
ROUNDS = 3
"""How often a night's habits are learned from its placed marks."""
PRIOR_MARKS = 6.0
UNLOGGED = 0.15
"""Share of lessons without an entry that had a drill all the same, before looking at the pauses."""
SURE = 0.5
"""An end that nobody logged is placed where this much of what is likely lies within a ball of it."""

AS_LOGGED, MOVED, END_READ, END_UNKNOWN, NOT_LOGGED = TIMINGS


@dataclass(frozen=True)
class Mark:
    """One logged drill: seconds at which it began and ended, NaN where no end was logged."""

    begin: float
    end: float


@dataclass(frozen=True)
class Reading:
    """One drill as the balls tell it: seconds at which the aid went down and came up (NaN: not known), how the log was
    read, and the probability that a cut lies more than a ball away from these."""

    begin: float
    end: float
    timing: str
    doubt: float


@dataclass
class Lesson:
    """A lesson's balls, (n,) seconds rising, and its logged drills in order of their begins.

    `waited` (n - 1,) is how long nobody had hit a ball in the bay before each of its own but the first: where a bay is
    shared, another's turn is no pause. Left out, the lesson has the bay to itself.
    """

    struck: Floats
    marks: Sequence[Mark] = ()
    waited: Floats | None = None
    readings: list[Reading] = field(default_factory=list)

    def gaps(self) -> Gaps:
        """Return how much each gap looks like a pause."""
        return judge(np.diff(self.struck) if self.waited is None else self.waited, 2 * max(len(self.marks), 1))


@dataclass(frozen=True)
class Habits:
    """How an academy logs on a night: share of marks tapped in the bay, and share without a pause."""

    tapped: float = 0.5
    without_pause: float = 0.35


def _balls_weight(balls: NDArray[np.int64]) -> Floats:
    """How usual it is to hit so many balls with an aid, 1 at most."""
    few, many = np.clip(FEWEST_BALLS - balls, 0, None) / 2.5, np.clip(balls - MOST_BALLS, 0, None) / 8.0
    return np.asarray(0.01 + 0.99 * np.exp(-0.5 * (few**2 + many**2)))


def _distance(struck: Floats, at: float) -> Floats:
    """Seconds from a mark to each cut, (n + 1,): 0 for the gap that holds it."""
    before = np.concatenate([[-np.inf], struck])
    after = np.concatenate([struck, [np.inf]])
    return np.maximum(np.maximum(before - at, at - after), 0.0)


def _mark_weight(struck: Floats, at: float, habits: Habits) -> tuple[Floats, Floats]:
    """Density of a mark at each cut, and the part of it that belongs to marks tapped in the bay."""
    if np.isnan(at):
        return np.ones(struck.size + 1), np.zeros(struck.size + 1)
    away = _distance(struck, at)
    tapped = habits.tapped * np.exp(-0.5 * (away / TAPPED_SECONDS) ** 2) / TAPPED_SECONDS
    remembered = (1 - habits.tapped) * np.exp(-0.5 * (away / REMEMBERED_SECONDS) ** 2) / REMEMBERED_SECONDS
    whole = (1 - ASTRAY) * (tapped + remembered) + ASTRAY / ASTRAY_WITHIN
    return whole, (1 - ASTRAY) * tapped / whole


def _middle(struck: Floats, cut: int) -> float:
    """Return the second at which a cut is placed: the middle of its gap, just beside the balls at either end."""
    if cut == 0:
        return float(struck[0]) - 1.0
    if cut == struck.size:
        return float(struck[-1]) + 1.0
    return float(struck[cut - 1] + struck[cut]) / 2


def _cut_of(struck: Floats, at: float) -> int:
    return int(np.searchsorted(struck, at, side="left"))


def _posterior(lesson: Lesson, mark: Mark, gaps: Gaps, habits: Habits, first: int) -> Floats:
    """Probability of each pair of cuts, (n + 1, n + 1), begin by row; none before cut `first`."""
    cuts = np.arange(lesson.struck.size + 1)
    factor = gaps.at_cuts(habits.without_pause)
    begin, end = (_mark_weight(lesson.struck, at, habits)[0] * factor for at in (mark.begin, mark.end))
    balls = cuts[None, :] - cuts[:, None]
    usual = _balls_weight(balls)
    if not np.isnan(mark.end):
        # How many balls are usual speaks for no move of marks that were both logged.
        usual[_cut_of(lesson.struck, mark.begin), _cut_of(lesson.struck, mark.end)] = 1.0
    weight = np.where((balls >= 0) & (cuts[:, None] >= first), usual, 0.0)
    whole = begin[:, None] * end[None, :] * weight
    total = whole.sum()
    return whole / total if total > 0 else whole


def _near(cuts: int, at: int) -> slice:
    return slice(max(at - 1, 0), min(at + 2, cuts))


def _read(lesson: Lesson, mark: Mark, gaps: Gaps, habits: Habits, first: int) -> tuple[Reading, int, int]:
    """Place one drill: its reading and its two cuts."""
    struck = lesson.struck
    chance = _posterior(lesson, mark, gaps, habits, first)
    i, j = divmod(int(np.argmax(chance)), len(chance))
    held = float(chance[_near(len(chance), i), _near(len(chance), j)].sum())
    doubt = min(max(1 - held, 0.0), 1.0)
    if chance.max() <= 0:
        return Reading(mark.begin, mark.end, END_UNKNOWN if np.isnan(mark.end) else AS_LOGGED, 1.0), first, first
    stays = i == _cut_of(struck, mark.begin)
    begin = mark.begin if stays else _middle(struck, i)
    if np.isnan(mark.end):
        if held < SURE:
            return Reading(mark.begin, np.nan, END_UNKNOWN, 1.0), _cut_of(struck, mark.begin), struck.size
        return Reading(begin, _middle(struck, j), END_READ, doubt), i, j
    if stays and j == _cut_of(struck, mark.end):
        return Reading(mark.begin, mark.end, AS_LOGGED, doubt), i, j
    end = mark.end if j == _cut_of(struck, mark.end) else _middle(struck, j)
    return Reading(begin, max(end, begin + 1.0), MOVED, doubt), i, j


def _learn(
    lessons: Sequence[Lesson], gaps: Sequence[Gaps], cuts: Sequence[list[tuple[int, int]]], start: Habits
) -> Habits:
    """Take from a night's marks how its academy logs, with a prior worth `PRIOR_MARKS` marks."""
    prior = Habits()
    tapped, plain, marks = prior.tapped * PRIOR_MARKS, prior.without_pause * PRIOR_MARKS, PRIOR_MARKS
    for lesson, of, placed in zip(lessons, gaps, cuts, strict=True):
        factor = of.at_cuts(start.without_pause)
        for mark, pair in zip(lesson.marks, placed, strict=True):
            for at, cut in zip((mark.begin, mark.end), pair, strict=True):
                if not np.isnan(at):
                    tapped += float(_mark_weight(lesson.struck, at, start)[1][cut])
                    plain += min(start.without_pause / float(factor[cut]), 1.0)
                    marks += 1
    return Habits(float(np.clip(tapped / marks, 0.05, 0.95)), float(np.clip(plain / marks, 0.05, 0.95)))


def _place_all(lesson: Lesson, gaps: Gaps, habits: Habits) -> tuple[list[Reading], list[tuple[int, int]]]:
    """Place a lesson's drills in their order, none before the end of the one before it."""
    readings, cuts, first = [], [], 0
    for mark in lesson.marks:
        reading, i, j = _read(lesson, mark, gaps, habits, first)
        readings.append(reading)
        cuts.append((i, j))
        # A drill without a known end leaves the next one free to begin where it was logged.
        first = j if reading.timing != END_UNKNOWN else i
    return readings, cuts


def _unlogged(lesson: Lesson, gaps: Gaps, habits: Habits) -> Reading | None:
    """Return a drill that the pauses of a lesson without entries show, if that is likelier than none."""
    cuts = np.arange(lesson.struck.size + 1)
    factor = np.concatenate([[0.0], gaps.ratio, [0.0]])
    balls = cuts[None, :] - cuts[:, None]
    weight = np.where(balls > 0, _balls_weight(balls), 0.0)
    if weight.sum() <= 0:
        return None
    whole = weight * factor[:, None] * factor[None, :]
    shown = (1 - habits.without_pause) ** 2 * float(whole.sum() / weight.sum())
    if UNLOGGED / (1 - UNLOGGED) * shown < 1.0:
        return None
    i, j = divmod(int(np.argmax(whole)), len(whole))
    near = float(whole[_near(len(whole), i), _near(len(whole), j)].sum() / whole.sum())
    return Reading(_middle(lesson.struck, i), _middle(lesson.struck, j), NOT_LOGGED, 1 - near)


def place(lessons: Sequence[Lesson]) -> None:
    """Fill in the readings of one night's lessons.

    Parameters
    ----------
    lessons : those of one night; how its marks lie to the pauses says how they were logged. A lesson without marks
        gets a reading only where its pauses look like a drill that nobody logged.
    """
    gaps = [lesson.gaps() for lesson in lessons]
    drilled = [(lesson, of) for lesson, of in zip(lessons, gaps, strict=True) if lesson.marks]
    able = [(lesson, of) for lesson, of in drilled if lesson.struck.size > MIN_GAPS]
    habits = Habits()
    for _ in range(ROUNDS):
        cuts = [_place_all(lesson, of, habits)[1] for lesson, of in able]
        habits = _learn([lesson for lesson, _ in able], [of for _, of in able], cuts, habits)
    for lesson, of in zip(lessons, gaps, strict=True):
        if lesson.struck.size <= MIN_GAPS:
            lesson.readings = [
                Reading(m.begin, m.end, END_UNKNOWN if np.isnan(m.end) else AS_LOGGED, 0.0) for m in lesson.marks
            ]
        elif lesson.marks:
            lesson.readings = _place_all(lesson, of, habits)[0]
        elif found := _unlogged(lesson, of, habits):
            lesson.readings = [found]
