"""How far each bay reads off the others, from students who were seen in two or more bays.

Session centres of free shots on student x club effects, bay effects and a smooth trend by week, in the bay's own
frame. Offsets sum to zero within each set of bays that shared students connect; between sets nothing can be said, and
a bay that shares no student has a null offset. A recalibration starts a new epoch of its bay with an offset of its own;
each bay counts once in the sum, as it reads since its last one.
Not here: drift within an epoch (`bay_drift`) and taking offsets off blocks (whoever builds blocks).
"""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.bays import drift
from warehouse.domain.bays.fit import (
    Floats,
    Ints,
    MetricSessions,
    absorb,
    between_sessions,
    connected_sets,
    dummies,
    normal_equations,
    prepare,
    with_epochs,
)
from warehouse.domain.statistics.clustered_errors import clustered
from warehouse.schema.metrics import METRIC

STEPS = 4
HUBER = 1.345
"""Bend of Huber's weights: 95% efficient for normal days (Huber 1964, Ann Math Stat 35:73)."""
SCHEMA = {
    "bay_id": pl.String,
    "metric": pl.String,
    "from_date": pl.Date,
    "bay_offset": pl.Float64,
    "ci_low": pl.Float64,
    "ci_high": pl.Float64,
    "standard_error": pl.Float64,
    "sessions": pl.Int64,
    "overlap_students": pl.Int64,
    "comparable_set": pl.String,
}


def fit(sessions: pl.DataFrame, events: pl.DataFrame | None = None, level: float = 0.95) -> pl.DataFrame:
    """Fit bay offsets for every metric.

    Parameters
    ----------
    sessions : polars.DataFrame
        One row per session, club and metric: `student_id, handed, club, bay_id, week` (Monday), optionally `day`
        (local date; places a session before or after a recalibration in the same week), `metric, shots, centre`
        (golfer's frame, left-handers mirrored; metric's unit), `variance` (error variance of the centre).
    events : polars.DataFrame, optional
        `bay_id, on_date` of recalibrated or moved devices.
    level : float
        Of the intervals.

    Returns
    -------
    polars.DataFrame
        A row per bay, epoch and metric: `bay_id, metric, from_date` (null: from the beginning), `bay_offset, ci_low,
        ci_high, standard_error` (metric's unit, bay's own frame; null where no shared student carries it),
        `sessions, overlap_students, comparable_set` (first bay of the connected set), `drifting`.

    Notes
    -----
    Weights 1 / (s_b^2 + noise) from a first pass weighted by shots, then Huber's for days out of the ordinary (three
    steps). Errors are clustered by student with the CR2
    adjustment of Bell & McCaffrey (2002, Survey Methodology 28:169); degrees of freedom by the effective number of
    students, (sum q)^2 / sum q^2 less one, q a student's share of the offset's information.
    """
    offsets = fit_offsets(sessions, events, level)
    if offsets.is_empty():
        return offsets.with_columns(pl.lit(None, dtype=pl.Boolean).alias("drifting"))
    drifting = drift.latest(drift.flag(sessions, offsets, events))
    return offsets.join(
        drifting, on=["bay_id", "metric", "from_date"], how="left", nulls_equal=True, maintain_order="left"
    ).with_columns(pl.col("drifting").fill_null(False))


def fit_offsets(sessions: pl.DataFrame, events: pl.DataFrame | None = None, level: float = 0.95) -> pl.DataFrame:
    """Fit bay offsets without looking for drift: as `fit`, without `drifting`."""
    usable = sessions.filter(pl.col("centre").is_finite() & (pl.col("shots") > 0))
    placed = with_epochs(usable, events)
    rows = [
        _fit_metric(part, str(metric), level)
        for (metric,), part in placed.group_by(["metric"], maintain_order=True)
        if part.height
    ]
    if not rows:
        return pl.DataFrame(schema=SCHEMA)
    return (
        pl.concat(rows)
        .select(pl.col(name).cast(kind) for name, kind in SCHEMA.items())
        .sort("metric", "bay_id", "from_date", nulls_last=False)
    )


def apply(blocks: pl.DataFrame, offsets: pl.DataFrame) -> pl.DataFrame:
    """Take the bay's offset off `centre`, with the hand's sign for mirrored metrics; a null offset takes nothing.

    Parameters
    ----------
    blocks : polars.DataFrame
        With `bay_id, metric, handed, day` (or `week`), `centre`; other columns are kept.
    offsets : polars.DataFrame
        As `fit` returns them.
    """
    mirrored = [name for name, metric in METRIC.items() if metric.mirrored]
    sign = pl.when(pl.col("metric").is_in(mirrored) & (pl.col("handed") == "left")).then(-1.0).otherwise(1.0)
    when = "day" if "day" in blocks.columns else "week"
    epochs = offsets.select(
        "bay_id", "metric", "bay_offset", pl.col("from_date").fill_null(pl.date(1900, 1, 1)).alias("_on")
    )
    return (
        blocks.with_row_index("_row")
        .with_columns(pl.col(when).cast(pl.Date).alias("_on"))
        .sort("_on")
        .join_asof(epochs.sort("_on"), on="_on", by=["bay_id", "metric"], check_sortedness=False)
        .with_columns(pl.col("centre") - sign * pl.col("bay_offset").fill_null(0.0))
        .sort("_row")
        .drop("_row", "_on", "bay_offset")
    )


def _fit_metric(rows: pl.DataFrame, metric: str, level: float) -> pl.DataFrame:
    epochs = rows.select("bay_id", "from_date").unique().sort("bay_id", "from_date").with_row_index("epoch")
    data = prepare(rows.join(epochs, on=["bay_id", "from_date"], nulls_equal=True), metric)
    label = connected_sets(data.epoch, data.group, epochs.height)
    offset, error, freedom = _solve(data, label, _centring(epochs["bay_id"].to_numpy(), label))
    students = _overlap_students(data, epochs.height)
    carried = (np.bincount(label)[label] > 1) & np.isfinite(offset)
    trusted = carried & (students > 1) & (error > 0)
    half = np.where(trusted, error * _t_quantile(level, np.maximum(freedom, 1.0)), np.nan)
    first_bay = np.array([epochs["bay_id"][int(np.flatnonzero(label == one)[0])] for one in label])
    return epochs.with_columns(
        pl.lit(metric).alias("metric"),
        pl.Series("bay_offset", np.where(carried, offset, np.nan)).fill_nan(None),
        pl.Series("ci_low", offset - half).fill_nan(None),
        pl.Series("ci_high", offset + half).fill_nan(None),
        pl.Series("standard_error", np.where(trusted, error, np.nan)).fill_nan(None),
        pl.Series("sessions", np.bincount(data.epoch, minlength=epochs.height)),
        pl.Series("overlap_students", students),
        pl.Series("comparable_set", first_bay.astype(str)),
    ).drop("epoch")


def _centring(bay_id: NDArray[np.object_], label: Ints) -> Floats:
    """Contrasts (epochs, epochs) against the mean of the set, each bay counted once: by its latest epoch there.

    Epochs come in order of bay and date.
    """
    place = [*zip(bay_id, label, strict=True)]
    latest = {where: epoch for epoch, where in enumerate(place)}
    counts = np.array([latest[where] == epoch for epoch, where in enumerate(place)])
    return np.eye(label.size) - (label[:, None] == label) * counts / np.bincount(label, counts)[label][:, None]


def _solve(data: MetricSessions, label: Ints, centring: Floats) -> tuple[Floats, Floats, Floats]:
    """Return offset, standard error and degrees of freedom per epoch, each shape (epochs,)."""
    levels = label.size
    scale = np.sqrt(np.concatenate([np.bincount(data.epoch, minlength=levels), (data.trend**2).sum(axis=0)]))
    scale = np.maximum(scale / np.sqrt(data.centre.size), 1e-12)
    weight = data.shots
    for step in range(STEPS):
        normal, target = normal_equations(data, levels, weight)
        inverse, estimable = _inverse(normal / np.outer(scale, scale), centring, scale)
        beta = inverse @ (target / scale) / scale
        fitted = beta[:levels][data.epoch] + data.trend @ beta[levels:]
        residual = absorb((data.centre - fitted)[:, None], data.group, weight)[:, 0]
        if step == 0:
            between = between_sessions(residual, data, weight, int(np.linalg.matrix_rank(inverse)))
            precision = 1 / np.maximum(between + data.noise, 1e-12)
        trust = _trust(residual * np.sqrt(precision))
        if step < STEPS - 1:
            weight = precision * trust
    rows = (inverse / scale[:, None])[:levels]
    # Sum to zero within each connected set, in the metric's unit.
    offset, rows = centring @ beta[:levels], centring @ rows
    x = absorb(np.column_stack([dummies(data.epoch, levels), data.trend]) / scale, data.group, weight)
    variance, freedom = clustered(x, weight, residual, data.student, inverse, rows)
    # The slope of Huber's score is the share of days within the bend, less than the mean weight the solver used.
    loss = float((precision * trust).sum() / (precision * (trust >= 1.0)).sum())
    return np.where(estimable, offset, np.nan), np.sqrt(variance) * loss, freedom


def _trust(standardised: Floats) -> Floats:
    """Huber's weights: a day far out of a student's usual counts for less, by its distance in robust SDs."""
    spread = float(np.median(np.abs(standardised))) / 0.6745
    if spread <= 0:
        return np.ones_like(standardised)
    return np.minimum(1.0, HUBER / np.maximum(np.abs(standardised) / spread, 1e-12))


def _inverse(normal: Floats, centring: Floats, scale: Floats) -> tuple[Floats, Ints]:
    """Pseudo-inverse of the normal equations, and which offsets are estimable within their set."""
    levels = len(centring)
    values, vectors = np.linalg.eigh(normal)
    kept = values > 1e-9 * max(values.max(initial=0.0), 1e-300)
    inverse = (vectors[:, kept] / values[kept]) @ vectors[:, kept].T
    contrast = np.zeros((levels, normal.shape[0]))
    contrast[:, :levels] = centring
    contrast = contrast / scale
    missed = np.abs(contrast @ vectors[:, ~kept]).max(axis=1, initial=0.0)
    return inverse, missed < 1e-6 * np.maximum(np.abs(contrast).max(axis=1), 1e-12)


def _overlap_students(data: MetricSessions, levels: int) -> Ints:
    """Count, per epoch, the students who hit some club both there and in another epoch."""
    pairs, first = np.unique(data.group * levels + data.epoch, return_index=True)
    group, epoch = pairs // levels, pairs % levels
    shared = np.bincount(group)[group] > 1
    students = np.unique(data.student[first][shared] * levels + epoch[shared])
    return np.bincount(students % levels, minlength=levels).astype(np.int64)


def _t_quantile(level: float, freedom: Floats) -> Floats:
    from scipy.special import stdtrit

    return stdtrit(freedom, 0.5 + level / 2)
