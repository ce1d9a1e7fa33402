"""Least squares on session centres with student x club effects absorbed: what bay offsets and bay drift share.

Everything here is in the bay's own frame: a left-hander's mirrored metric is turned back before it is fitted, because
a device errs to its own left or right and not to the golfer's. Not here: what is published (`bay_offset`) and how a
drift is called (`bay_drift`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.schema.metrics import CLUBS, METRIC

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WEEKS_PER_KNOT = 8.0


@dataclass(frozen=True)
class MetricSessions:
    """One metric's session centres as arrays of one row a session and club, shape (n,) unless said otherwise.

    `centre` is in the bay's own frame; `epoch` numbers bay epochs (a bay, or a bay since a recalibration), `group`
    student x club, `student` the student. `trend` (n, q) holds the smooth trend by week, in the golfer's frame (times
    the hand's sign), by club group. `noise` is the expected error variance of the centre, in squared units.
    """

    centre: Floats
    shots: Floats
    noise: Floats
    epoch: Ints
    group: Ints
    student: Ints
    week: Ints
    trend: Floats


def with_epochs(sessions: pl.DataFrame, events: pl.DataFrame | None) -> pl.DataFrame:
    """Give every session its bay epoch: `from_date` is the last recalibration on or before its day, or null.

    Parameters
    ----------
    sessions : polars.DataFrame
        With `bay_id`, `week` and, where known, `day`. Without `day` the Monday stands for the whole week, so a
        recalibration counts from the week after it.
    events : polars.DataFrame or None
        `bay_id`, `on_date`: recalibrated or moved devices; a site's event is given once for each of its bays.
    """
    when = "day" if "day" in sessions.columns else "week"
    if events is None or events.is_empty():
        return sessions.with_columns(pl.lit(None, dtype=pl.Date).alias("from_date"))
    starts = events.select(
        "bay_id", pl.col("on_date").cast(pl.Date).alias("_on"), pl.col("on_date").cast(pl.Date).alias("from_date")
    )
    return (
        sessions.with_columns(pl.col(when).cast(pl.Date).alias("_on"))
        .sort("_on")
        .join_asof(starts.unique().sort("_on"), on="_on", by="bay_id", strategy="backward", check_sortedness=False)
        .drop("_on")
    )


def hand_sign(metric: str) -> pl.Expr:
    """Return -1 for a left-hander's mirrored metric, else 1: turns the golfer's frame into the bay's and back."""
    if not METRIC[metric].mirrored:
        return pl.lit(1.0)
    return pl.when(pl.col("handed") == "left").then(-1.0).otherwise(1.0)


def prepare(rows: pl.DataFrame, metric: str) -> MetricSessions:
    """Turn one metric's rows (with `epoch`) into arrays; rows without a centre or without shots must be gone."""
    rows = rows.with_columns(
        pl.col("club").replace_strict(CLUBS, default="wood").alias("_club_group"), hand_sign(metric).alias("_sign")
    ).with_columns(
        # A single session's variance is too noisy to weight by: pooled by club group, over its shots.
        noise=(pl.col("variance") * pl.col("shots")).mean().over("_club_group").fill_null(0.0) / pl.col("shots"),
    )
    week = rows["week"].cast(pl.Date).to_physical().to_numpy().astype(np.int64) // 7
    sign = rows["_sign"].to_numpy().astype(float)
    return MetricSessions(
        centre=rows["centre"].to_numpy().astype(float) * sign,
        shots=rows["shots"].to_numpy().astype(float),
        noise=rows["noise"].to_numpy().astype(float),
        epoch=rows["epoch"].to_numpy().astype(np.int64),
        group=_codes(rows, "student_id", "club"),
        student=_codes(rows, "student_id"),
        week=week - week.min(),
        trend=sign[:, None] * _by_group(trend_basis(week), _codes(rows, "_club_group")),
    )


def _codes(rows: pl.DataFrame, *columns: str) -> Ints:
    return (rows.select(pl.struct(columns).rank("dense") - 1).to_series().to_numpy()).astype(np.int64)


def trend_basis(week: Ints) -> Floats:
    """Return a natural cubic (n, q) over whole weeks: linear, and one knot more for every eight weeks; no constant."""
    span = float(np.ptp(week)) if week.size else 0.0
    if span == 0:
        return np.zeros((week.size, 0))
    time = (week - week.min()) / span
    inner = min(int(span // WEEKS_PER_KNOT), 4)
    if inner == 0:
        return time[:, None]
    knots = np.linspace(0, 1, inner + 2)

    def curve(knot: float) -> Floats:
        return (np.clip(time - knot, 0, None) ** 3 - np.clip(time - 1, 0, None) ** 3) / (1 - knot)

    last = curve(float(knots[-2]))
    return np.column_stack([time, *(curve(float(knot)) - last for knot in knots[:-2])])


def _by_group(basis: Floats, group: Ints) -> Floats:
    return np.column_stack([basis * (group == g)[:, None] for g in range(int(group.max()) + 1)])


def absorb(columns: Floats, group: Ints, weight: Floats) -> Floats:
    """Take each group's weighted mean out of every column of an (n, p) array."""
    from scipy import sparse

    n = group.size
    members = sparse.csr_matrix((weight, (group, np.arange(n))), shape=(int(group.max()) + 1, n))
    return columns - (members @ columns / np.bincount(group, weight)[:, None])[group]


def normal_equations(data: MetricSessions, levels: int, weight: Floats) -> tuple[Floats, Floats]:
    """X'WX (p, p) and X'Wy (p,) of epochs' indicators and the trend, each group's weighted mean taken out.

    Sums by epoch and by group give both without writing the indicators out.
    """
    of_group = np.bincount(data.group, weight)
    groups, width = of_group.size, levels + data.trend.shape[1]
    normal, means = np.zeros((width, width)), np.zeros((groups, width))
    heavy = data.trend * weight[:, None]
    normal[:levels, :levels] = np.diag(np.bincount(data.epoch, weight, levels))
    normal[levels:, levels:] = data.trend.T @ heavy
    means[:, :levels] = np.bincount(data.group * levels + data.epoch, weight, groups * levels).reshape(groups, levels)
    for j, column in enumerate(heavy.T, start=levels):
        normal[:levels, j] = normal[j, :levels] = np.bincount(data.epoch, column, levels)
        means[:, j] = np.bincount(data.group, column, groups)
    y = data.centre * weight
    target = np.concatenate([np.bincount(data.epoch, y, levels), data.trend.T @ y])
    share = means / of_group[:, None]
    return normal - share.T @ means, target - share.T @ np.bincount(data.group, y, groups)


def dummies(codes: Ints, levels: int) -> Floats:
    """Return indicator columns (n, levels)."""
    return (codes[:, None] == np.arange(levels)[None, :]).astype(float)


def connected_sets(epoch: Ints, group: Ints, levels: int) -> Ints:
    """Number the connected sets of bay epochs: two are joined where one student x club was seen in both."""
    from scipy import sparse
    from scipy.sparse.csgraph import connected_components

    groups = int(group.max()) + 1
    seen = sparse.csr_matrix((np.ones(epoch.size), (epoch, group)), shape=(levels, groups))
    _, label = connected_components(sparse.bmat([[None, seen], [seen.T, None]]), directed=False)
    return label[:levels].astype(np.int64)


def between_sessions(residual: Floats, data: MetricSessions, weight: Floats, parameters: int) -> float:
    """Return the variance of a student's sessions beyond shot noise, by the moment of weighted squared residuals."""
    freedom = residual.size - int(data.group.max()) - 1 - parameters
    if freedom < 1:
        return 0.0
    mean_square = float(weight @ residual**2 / weight.sum()) * residual.size / freedom
    return max(mean_square - float(weight @ data.noise / weight.sum()), 0.0)
