"""The same students at two times: the change of each, its error, and what free practice alone would have changed.

What `change` (first against latest sessions) and `cohort` (one window of weeks against another) share. A session is
its first block of free shots with the bay offset removed. Not here: drills and their effects.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.bays.fit import absorb, dummies, trend_basis
from warehouse.domain.change import practice_rate
from warehouse.domain.statistics import block_summary
from warehouse.domain.statistics import variance_components as variance
from warehouse.domain.statistics.group_codes import numbered
from warehouse.schema.metrics import METRIC

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

MEASURES = ("centre", "distance", "spread")
FREE_STUDENTS = 5
"""Students with two or more sessions of free practice without which nothing is expected of free practice."""
REACH_WEEKS = 2
"""Nothing is expected of a span that ends this much later than the free practice of all but a few students."""
SUCCESSIVE_PAIRS = 20
SMOOTH_STUDENTS = 30
"""From here the free-practice trend may bend; with fewer it is a straight line."""


@dataclass(frozen=True)
class Cell:
    """One metric, club group and measure; one entry a session, sorted by student and day.

    `value` the session's centre (metric's unit) or log spread, clubs of the group brought to one level; `noise` its
    error variance from shots; `between` s_b^2 of sessions; `free` before the student's first drill; `drilled` a drill
    followed in the session; `bay` codes and
    `offset_variance` (bays,) their squared standard errors; `ids` students' names by code.
    """

    metric: str
    club_group: str
    measure: str
    student: Ints
    day: Ints
    week: Ints
    value: Floats
    noise: Floats
    free: Flags
    drilled: Flags
    bay: Ints
    offset_variance: Floats
    between: float
    ids: list[str]


@dataclass(frozen=True)
class Compared:
    """One entry a student; NaN where a block is missing. `variance` is the error variance of `change`."""

    first: Floats
    latest: Floats
    first_sessions: Ints
    latest_sessions: Ints
    change: Floats
    variance: Floats
    expected: Floats
    expected_error: Floats


def cells(
    first_blocks: pl.DataFrame, components: pl.DataFrame | None = None, offsets: pl.DataFrame | None = None
) -> Iterator[Cell]:
    """Yield the cell of every metric, club group and measure.

    Parameters
    ----------
    first_blocks : polars.DataFrame
        One row per session, club and metric: `student_id, session_id, day, week, club, club_group, bay_id, metric,
        shots, centre` (offset removed), `variance, drilled` (the session had a drill, after this block); with `spread`
        (winsorised SD) the measure 'spread' too. 'distance' is given for metrics that are better nearer to zero.
    components : polars.DataFrame, optional
        `metric, club_group, within, between_sessions`; estimated here where missing.
    offsets : polars.DataFrame, optional
        As `bay_offset.fit` returns them, for the uncertainty of bays.
    """
    rows = first_blocks.filter((pl.col("shots") >= block_summary.LEAST_SHOTS) & pl.col("centre").is_not_null())
    first_drill = pl.col("day").filter(pl.col("drilled")).min().over("student_id")
    rows = rows.with_columns(_free=(pl.col("day") <= first_drill).fill_null(True))
    for (metric, group), part in rows.sort("student_id", "day", "session_id").group_by(
        ["metric", "club_group"], maintain_order=True
    ):
        known = None if components is None else components.filter(metric=metric, club_group=group)
        centre = _centre_cell(part, str(metric), str(group), known, offsets)
        yield centre
        if METRIC[str(metric)].better_for(str(group)) == "zero":
            yield replace(centre, measure="distance")
        if "spread" in part.columns:
            yield _spread_cell(part, centre)


def _centre_cell(
    part: pl.DataFrame, metric: str, group: str, known: pl.DataFrame | None, offsets: pl.DataFrame | None
) -> Cell:
    ids = part["student_id"].unique().sort().to_list()
    student = _codes(part["student_id"], ids)
    shots = part["shots"].to_numpy().astype(float)
    value = _one_level(part["centre"].to_numpy().astype(float), part["club"], student)
    error = part["variance"].fill_null(np.nan).to_numpy().astype(float)
    within = variance.from_blocks(student, value, error, shots).within
    free = part["_free"].to_numpy()
    between = _between_sessions(student, value, np.nan_to_num(within) / shots, free)
    if known is not None and known.height:
        within, between = float(known["within"][0]), float(known["between_sessions"][0])
    bays = part["bay_id"].unique().sort().to_list()
    return Cell(
        metric, group, "centre", student, _whole(part["day"]), _whole(part["week"]) // 7, value,
        np.nan_to_num(within) / shots, free, part["drilled"].to_numpy(), _codes(part["bay_id"], bays),
        _offset_variance(bays, metric, offsets), float(np.nan_to_num(between)), ids,
    )  # fmt: skip


def _spread_cell(part: pl.DataFrame, centre: Cell) -> Cell:
    value, noise = block_summary.log_spread(
        part["spread"].fill_null(np.nan).to_numpy().astype(float), part["shots"].to_numpy().astype(float)
    )
    ok = np.isfinite(value)
    value = np.where(ok, value, 0.0)
    value[ok] = _one_level(value[ok], part["club"].filter(pl.Series(ok)), centre.student[ok])
    between = _between_sessions(centre.student[ok], value[ok], noise[ok], centre.free[ok])
    return Cell(
        centre.metric, centre.club_group, "spread", centre.student[ok], centre.day[ok], centre.week[ok], value[ok],
        noise[ok], centre.free[ok], centre.drilled[ok], centre.bay[ok], np.zeros_like(centre.offset_variance),
        between, centre.ids,
    )  # fmt: skip


def _between_sessions(student: Ints, value: Floats, noise: Floats, free: Flags) -> float:
    """Variance of a student's sessions beyond shot noise, from successive free-practice sessions.

    Half the mean squared successive difference (von Neumann et al. 1941, Ann Math Stat 12:153), so that neither a
    lasting change nor a trend is taken for noise; all sessions where free practice has fewer than 20 pairs.
    """
    for kept in (free, np.ones(free.size, dtype=bool)):
        s, y, v = student[kept], value[kept], noise[kept]
        pair = s[1:] == s[:-1]
        if int(pair.sum()) >= SUCCESSIVE_PAIRS or kept.all():
            squares = (np.diff(y) ** 2 - v[1:] - v[:-1])[pair] / 2
            return max(float(squares.mean()), 0.0) if squares.size else 0.0
    return 0.0


def compare(cell: Cell, first: Flags, latest: Flags) -> Compared:
    """Compare each student's sessions in `first` with those in `latest` (n,), and with free practice over that span.

    In the measure 'distance' a student's side of zero is that of first plus latest together: their sum tells nothing
    of their difference where both are equally uncertain, so that choosing the side brings no regression to the mean.
    """
    size = len(cell.ids)
    k1, k2 = np.bincount(cell.student[first], minlength=size), np.bincount(cell.student[latest], minlength=size)
    value = cell.value
    before, after = _means(cell, value, first, k1), _means(cell, value, latest, k2)
    if cell.measure == "distance":
        side = np.where(before + after < 0, -1.0, 1.0)
        value, before, after = value * side[cell.student], before * side, after * side
    noise = _means(cell, cell.noise, first, k1) / np.maximum(k1, 1) + _means(cell, cell.noise, latest, k2) / np.maximum(
        k2, 1
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        error = cell.between * (1 / k1 + 1 / k2) + noise + _bays(cell, first, latest, k1, k2)
    expected, expected_error = _told(cell, *_expected(cell, value, first, latest, k1, k2))
    if np.isnan(expected).any():
        by_step, step_error = _told(cell, *_by_step(cell, value, first, latest, k1, k2))
        expected_error = np.where(np.isnan(expected), step_error, expected_error)
        expected = np.where(np.isnan(expected), by_step, expected)
    return Compared(before, after, k1, k2, after - before, error, expected, expected_error)


def _means(cell: Cell, value: Floats, rows: Flags, k: Ints) -> Floats:
    sums = np.bincount(cell.student[rows], value[rows], len(cell.ids))
    return np.divide(sums, k, out=np.full(k.size, np.nan), where=k > 0)


def _bays(cell: Cell, first: Flags, latest: Flags, k1: Ints, k2: Ints) -> Floats:
    """Error variance of the bays' offsets: each bay by the square of how much its share of sessions changed."""
    size, bays = len(cell.ids), cell.offset_variance.size
    shares = []
    for rows, k in ((first, k1), (latest, k2)):
        count = np.bincount(cell.student[rows] * bays + cell.bay[rows], minlength=size * bays).reshape(size, bays)
        shares.append(count / np.maximum(k, 1)[:, None])
    return (shares[1] - shares[0]) ** 2 @ cell.offset_variance


def _expected(cell: Cell, value: Floats, first: Flags, latest: Flags, k1: Ints, k2: Ints) -> tuple[Floats, Floats]:
    """Mean change of free practice over each student's own span, and its error: NaN where too few students' free
    practice lasts as long.

    Free-practice sessions (up to each student's first drill) on student effects and a smooth trend by week; errors by
    student (sandwich with g / (g - 1)).
    """
    nothing = np.full(k1.size, np.nan)
    per_student = np.bincount(cell.student[cell.free], minlength=k1.size)
    carried = cell.free & (per_student[cell.student] > 1)
    students = int((per_student > 1).sum())
    basis = trend_basis(cell.week)
    if students < FREE_STUDENTS or basis.shape[1] == 0:
        return nothing, nothing
    until = np.full(k1.size, -1)
    np.maximum.at(until, cell.student[carried], cell.week[carried])
    until = np.sort(until[per_student > 1])
    # Free practice that ended early in the term cannot say how the term's end bends.
    if np.count_nonzero(until >= np.quantile(cell.week, 0.75)) < SMOOTH_STUDENTS:
        basis = basis[:, :1]
    group = numbered(cell.student[carried])[1]
    moved = absorb(np.column_stack([basis, value])[carried], group, np.ones(group.size))
    x, y = moved[:, :-1], moved[:, -1]
    inverse = np.linalg.pinv(x.T @ x, hermitian=True)
    beta = inverse @ (x.T @ y)
    residual = y - x @ beta
    scores = np.column_stack([np.bincount(group, x[:, j] * residual) for j in range(x.shape[1])])
    spread = inverse @ (scores.T @ scores) @ inverse * students / (students - 1)
    span = np.column_stack(
        [_means(cell, basis[:, j], latest, k2) - _means(cell, basis[:, j], first, k1) for j in range(basis.shape[1])]
    )
    week = cell.week.astype(float)
    reach = np.nan_to_num(_means(cell, week, latest, k2)) - REACH_WEEKS
    supported = until.size - np.searchsorted(until, reach) >= FREE_STUDENTS
    error = np.sqrt(np.einsum("ij,jk,ik->i", span, spread, span))
    return np.where(supported, span @ beta, np.nan), np.where(supported, error, np.nan)


def _by_step(cell: Cell, value: Floats, first: Flags, latest: Flags, k1: Ints, k2: Ints) -> tuple[Floats, Floats]:
    """What practice alone gives over each student's span, from single steps, and its error."""
    weekly = practice_rate.weekly(cell.student, cell.day, value, cell.drilled, cell.between + cell.noise)
    day = cell.day.astype(float)
    span = (_means(cell, day, latest, k2) - _means(cell, day, first, k1)) / 7
    return weekly.rate * span, weekly.error * np.abs(span)


def _told(cell: Cell, expected: Floats, error: Floats) -> tuple[Floats, Floats]:
    """Give no expectation whose 95% interval is wider, by the median, than the smallest change that matters."""
    matters = block_summary.SPREAD_MATTERS_FROM if cell.measure == "spread" else METRIC[cell.metric].matters_from
    known = np.isfinite(expected)
    if known.any() and 2 * 1.96 * float(np.median(error[known])) <= matters:
        return expected, error
    return np.full(expected.size, np.nan), np.full(error.size, np.nan)


def _one_level(value: Floats, club: pl.Series, student: Ints) -> Floats:
    """Take out differences between clubs of a group, learned within students who hit more than one."""
    names = club.unique().sort().to_list()
    if len(names) < 2:
        return value
    code = _codes(club, names)
    columns = dummies(code, len(names))
    group = numbered(student)[1]
    moved = absorb(np.column_stack([columns, value]), group, np.ones(group.size))
    effect = np.linalg.lstsq(moved[:, :-1], moved[:, -1], rcond=1e-9)[0]
    return value - effect[code] + float(effect[code].mean())


def _offset_variance(bays: list[str], metric: str, offsets: pl.DataFrame | None) -> Floats:
    if offsets is None:
        return np.zeros(len(bays))
    latest = offsets.filter(metric=metric).sort("from_date", nulls_last=False).group_by("bay_id").last()
    known = dict(zip(latest["bay_id"], latest["standard_error"].fill_null(0.0), strict=True))
    return np.array([float(known.get(bay, 0.0)) ** 2 for bay in bays])


def _codes(values: pl.Series, names: list[str]) -> Ints:
    return values.replace_strict(names, range(len(names)), return_dtype=pl.Int64).to_numpy().astype(np.int64)


def _whole(days: pl.Series) -> Ints:
    return days.cast(pl.Date).to_physical().to_numpy().astype(np.int64)
