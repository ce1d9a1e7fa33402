"""Do changes of set-up and changes of delivery go together: within students, with errors by student.

An association, never a cause: a coach moves the ball when the number looks bad, and both may follow from a third thing.
What is seen by eye has an error of its own, which leans every slope toward zero. Not here: what a drill did
(drill_effect.py).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.statistics.clustered_errors import clustered
from warehouse.domain.statistics.false_discovery import q_values
from warehouse.domain.statistics.group_codes import numbered

Floats = NDArray[np.float64]

INTERVAL_STUDENTS = 5
STUDENTS, PAIRS = 10, 20
"""Below these nothing is said of a row."""
RATE = 0.05
KEY = ["measure", "unit", "metric", "club_group"]
SCHEMA = {
    **dict.fromkeys(KEY, pl.String),
    "students": pl.Int64,
    "pairs": pl.Int64,
    "typical_change": pl.Float64,
    "slope": pl.Float64,
    "slope_low": pl.Float64,
    "slope_high": pl.Float64,
    "rank_correlation": pl.Float64,
    "p_value": pl.Float64,
    "q_value": pl.Float64,
    "finding": pl.String,
}


def of_changes(pairs: pl.DataFrame) -> pl.DataFrame:
    """Regress changes of delivery on changes of an observation, for every observation and metric.

    Parameters
    ----------
    pairs : polars.DataFrame
        One row for two successive observations of a student: `measure, unit, metric, club_group, student_id`,
        `seen_change` (the observation's, in its unit) and `metric_change` (the delivery's between the same days).

    Returns
    -------
    polars.DataFrame
        Rows of mart.setup_association (`SCHEMA`). `slope` by least squares with a common change taken out (everybody
        improves over a term); its interval by student, CR2 (Bell & McCaffrey 2002), t; null under
        `INTERVAL_STUDENTS` students or where nothing was changed. `q_value` over the rows of at least `STUDENTS`
        students and `PAIRS` pairs.
    """
    found = [
        dict(zip(KEY, key, strict=True)) | _row(part)
        for key, part in pairs.sort(*KEY, "student_id").group_by(KEY, maintain_order=True)
    ]
    if not found:
        return pl.DataFrame(schema=SCHEMA)
    frame = pl.DataFrame(found, schema={name: SCHEMA[name] for name in found[0]})
    enough = (pl.col("students") >= STUDENTS) & (pl.col("pairs") >= PAIRS) & pl.col("p_value").is_not_nan()
    told = frame.select(pl.when(enough).then("p_value").otherwise(float("nan"))).to_series().to_numpy()
    frame = frame.with_columns(pl.Series("q_value", q_values(told)))
    finding = (
        pl.when(pl.col("q_value").is_nan())
        .then(pl.lit("too few"))
        .when(pl.col("q_value") <= RATE)
        .then(pl.lit("goes with"))
        .otherwise(pl.lit("not told apart from none"))
    )
    return frame.with_columns(finding.alias("finding")).select(*SCHEMA).with_columns(pl.col(pl.Float64).fill_nan(None))


def _row(part: pl.DataFrame) -> dict[str, Any]:
    from scipy.special import stdtr, stdtrit

    seen = part["seen_change"].to_numpy().astype(float)
    moved = part["metric_change"].to_numpy().astype(float)
    student = numbered(part["student_id"].rank("dense").to_numpy().astype(np.int64))[1]
    students = int(student.max()) + 1
    nothing = dict.fromkeys(("slope", "slope_low", "slope_high", "rank_correlation", "p_value"), np.nan)
    changed = np.abs(seen[seen != 0])
    row = {"students": students, "pairs": seen.size,
           "typical_change": float(np.median(changed)) if changed.size else np.nan} | nothing  # fmt: skip
    if students < INTERVAL_STUDENTS or np.ptp(seen) == 0:
        return row
    slope, variance, freedom = slope_by_student(seen, moved, student)
    row["slope"], row["rank_correlation"] = slope, _spearman(seen, moved)
    if freedom >= 1 and variance > 0:
        error = np.sqrt(variance)
        half = float(stdtrit(freedom, 0.975) * error)
        p = float(2 * stdtr(freedom, -abs(slope) / error))
        row |= {"slope_low": slope - half, "slope_high": slope + half, "p_value": p}
    return row


def slope_by_student(seen: Floats, moved: Floats, student: NDArray[np.int64]) -> tuple[float, float, float]:
    """Return the slope of moved on seen (n,), its variance by student (CR2) and its degrees of freedom.

    `student` (n,) whole numbers from 0.
    """
    # Centred, so that the degrees of freedom are those of the slope and not of where zero lies.
    x = np.column_stack([np.ones(seen.size), seen - seen.mean()])
    inverse = np.linalg.inv(x.T @ x)
    beta = inverse @ (x.T @ moved)
    rows = inverse[1:]
    variance, freedom = clustered(x, np.ones(seen.size), moved - x @ beta, student, inverse, rows)
    return float(beta[1]), float(variance[0]), float(freedom[0])


def _spearman(one: Floats, other: Floats) -> float:
    if np.ptp(other) == 0:
        return float("nan")
    first, second = (pl.Series(values).rank().to_numpy() for values in (one, other))
    return float(np.corrcoef(first, second)[0, 1])
