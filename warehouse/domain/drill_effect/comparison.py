"""One metric, club group, measure and horizon: the episodes that count, their fit against free practice, their sides.

Not here: rows of the published table (drill_effect.py).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from warehouse.domain.drill_effect import covariates, regression, trend, warm_up
from warehouse.domain.drill_effect.episodes import Level, Panel, level, measured
from warehouse.domain.statistics.group_codes import distinct, numbered

if TYPE_CHECKING:
    from warehouse.domain.drill_effect.responders import Responses

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

HORIZONS = ("transfer", "retention")
MIN_FREE_STUDENTS = 5
MIN_FREE_EPISODES_BEYOND_RANK = 10


class Eligible(NamedTuple):
    """Usable episodes: drill code, whether the days for a next session have passed, and whether one was seen."""

    drill: NDArray[np.int64]
    ripe: Flags
    followed: Flags


@dataclass(frozen=True)
class Comparison:
    """Episodes with both blocks of one measure and horizon, and their residuals from free practice.

    `before`, `after` values of the measure (bay offsets removed, club's mean not); `state` what earlier days say;
    `eligible` all usable episodes of the horizon, followed up or not. `luck` keeps what responders.py works out of
    free practice alone.
    `before_another` the drill codes of episodes left out of retention because another drill followed in the session.
    `error` is the error variance of `before`; `slopes` what students of the group improve by, by themselves.
    `fit` is None when free practice cannot carry a fit: `reason` says why.
    """

    rows: Panel
    before: Floats
    after: Floats
    state: Level
    fit: regression.Fit | None
    reason: str
    unseen: Flags
    lessons_compared: bool
    eligible: Eligible
    before_another: NDArray[np.int64]
    error: Floats
    slopes: trend.Slopes
    horizon: str
    luck: dict[float, Responses] = field(default_factory=dict)

    @cached_property
    def no_side(self) -> Floats:
        """A side for every row where values have none."""
        return np.ones(self.before.size)

    @cached_property
    def per_weekly_gain(self) -> Floats:
        """What a row's residual gains where its student improves by one unit a week more than others do.

        The level of earlier days is `age` weeks old, so the block before it stands above it by that much, and what the
        fit expects of the block after follows it only in part.
        """
        assert self.fit is not None
        s_b2 = float(np.nan_to_num(self.state.components.between_sessions))
        whole = self.state.doubt + s_b2 + self.error
        of_x, of_doubt, of_form = self.fit.beta[[1, 3, 4]]
        with np.errstate(invalid="ignore", divide="ignore"):
            followed = of_x + np.nan_to_num((of_doubt * self.state.doubt + of_form * s_b2) / whole)
        later = np.nan_to_num(self.rows.next_days) / 7.0 if self.horizon == "retention" else 0.0
        return np.asarray(self.state.age * (1 - followed) + later)

    @cached_property
    def comparator(self) -> tuple[int, int]:
        """Free-practice episodes alone, and of lessons without a drill."""
        free = self.rows.free & (self.rows.student >= 0)
        return int((free & (self.rows.coach < 0)).sum()), int((free & (self.rows.coach >= 0)).sum())

    @cached_property
    def free_students(self) -> NDArray[np.int64]:
        """Codes of the students with free-practice episodes."""
        return numbered(self.rows.student[self.rows.free & (self.rows.student >= 0)])[0]

    def side(self, target: float) -> Floats:
        """+1 where the student is usually above the target, -1 below, NaN without an earlier day."""
        sign = np.sign(self.state.usual - target)
        return np.where(sign != 0, sign, np.nan)


@dataclass(frozen=True)
class Group:
    """All rows of one metric and club group with their students' levels for one measure."""

    rows: Panel
    value: Floats
    error: Floats
    state: Level
    students: int
    mirrored: bool
    curve: warm_up.WarmUp | None
    slopes: trend.Slopes


def group(rows: Panel, measure: str, students: int, mirrored: bool) -> Group:
    """Values, error variances and levels of one club group's rows (`measure` 'centre' or 'spread')."""
    value, error = measured(rows, measure)
    state = level(rows, value[0], error[0])
    counted = measure == "centre" and bool(np.isfinite(rows.drill_shots[rows.drill >= 0]).any())
    curve = warm_up.learn(rows, value[0], state, students) if counted else None
    # A bay that reads too far right reads so for either hand; how much shots scatter has no side.
    slopes = trend.between_students(rows, value[0], state)
    return Group(rows, value, error, state, students, mirrored and measure == "centre", curve, slopes)


def _take_level(state: Level, rows: Flags) -> Level:
    return Level(
        state.usual[rows], state.m[rows], state.doubt[rows], state.days[rows], state.club_mean[rows], state.components,
        state.age[rows],
    )  # fmt: skip


def _too_little(free: Flags, student: NDArray[np.int64], rank: int) -> str:
    students = distinct(student[free])
    if not free.any():
        return "no free practice to compare with"
    if students < MIN_FREE_STUDENTS or int(free.sum()) < rank + MIN_FREE_EPISODES_BEYOND_RANK:
        return f"too little free practice to compare with ({int(free.sum())} episodes of {students} students)"
    return ""


def _fit(
    cell: Group, kept: Panel, state: Level, blocks: tuple[Floats, Floats, Floats], horizon: str, learned: Flags
) -> tuple[regression.Fit, covariates.Design]:
    """Fit (before, after, error variance of before); without bay terms where free practice is too thin."""
    before, after, error = blocks
    x, late = before - state.club_mean, np.zeros(before.size)
    if cell.curve is not None:
        late, cold = warm_up.head_start(kept, cell.curve)
        x = x + cell.curve.size * cold
    for bays in (True, False):
        design = covariates.build(kept, state, x, error, horizon, cell.mirrored, learned, bays)
        fitted = regression.fit(design.x, after - state.club_mean, learned, kept.student, cell.students, design.penalty)
        if not _too_little(learned, kept.student, fitted.rank):
            break
    if cell.curve is not None and horizon == "transfer":
        known = regression.Known(late, cell.curve.bread, cell.curve.scores)
        fitted = regression.with_known_term(fitted, cell.curve.size, known)
    return fitted, design


def compare(cell: Group, horizon: str, lessons_only: bool = False) -> Comparison:
    """Fit one horizon of a group; `lessons_only` learns from lessons without a drill alone."""
    rows = cell.rows
    able = rows.usable & np.isfinite(cell.value[0]) & np.isfinite(cell.error[0]) & (rows.student >= 0)
    able = able & np.isfinite(cell.value[1])
    before_another = np.zeros(0, dtype=np.int64)
    if horizon == "retention":
        before_another = rows.drill[able & rows.followed_by_drill]
        able = able & ~rows.followed_by_drill
    outcome = 2 if horizon == "retention" else 1
    keep = able & np.isfinite(cell.value[outcome])
    kept, state = rows.take(keep), _take_level(cell.state, keep)
    before, after, error = cell.value[0][keep], cell.value[outcome][keep], cell.error[0][keep]
    learned = kept.free & (kept.coach >= 0) if lessons_only else kept.free
    reason = _too_little(learned, kept.student, 0)
    fitted, unseen, lessons = None, np.zeros(kept.student.size, dtype=bool), False
    if not reason:
        fitted, design = _fit(cell, kept, state, (before, after, error), horizon, learned)
        unseen, lessons = design.unseen, design.lessons_compared
        reason = _too_little(learned, kept.student, fitted.rank)
        fitted = None if reason else fitted
    seen = np.isfinite(rows.next_days[able]) & np.isfinite(rows.centre[2][able])
    eligible = Eligible(rows.drill[able], rows.ripe[able], seen)
    return Comparison(
        kept, before, after, state, fitted, reason, unseen, lessons, eligible, before_another, error, cell.slopes,
        horizon,
    )  # fmt: skip
