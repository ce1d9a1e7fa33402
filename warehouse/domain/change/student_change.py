"""Did this student change: the first sessions against the latest, beside noise and beside free practice.

Nobody is called improved for a change that two blocks of the same golfer show by themselves. Not here: whether a drill
did it (`drill_effect`), groups of students (`cohort`).
"""

from __future__ import annotations

import numpy as np
import polars as pl

from warehouse.domain.change.paired_change import Cell, Flags, Ints, cells, compare
from warehouse.domain.statistics.false_discovery import q_values

POOLED_SESSIONS = 3
Z95 = 1.959964
SCHEMA = {
    "student_id": pl.String,
    "club_group": pl.String,
    "metric": pl.String,
    "measure": pl.String,
    "first_week": pl.Date,
    "latest_week": pl.Date,
    "first_sessions": pl.Int64,
    "latest_sessions": pl.Int64,
    "first_centre": pl.Float64,
    "latest_centre": pl.Float64,
    "change": pl.Float64,
    "ci_low": pl.Float64,
    "ci_high": pl.Float64,
    "expected_change": pl.Float64,
    "change_beyond_expected": pl.Float64,
    "minimal_detectable_change": pl.Float64,
    "beyond": pl.Boolean,
    "p_value": pl.Float64,
    "q_value": pl.Float64,
}


def comparable(first_blocks: pl.DataFrame, events: pl.DataFrame | None) -> pl.DataFrame:
    """Drop blocks that an event separates from the student's latest sessions.

    Parameters
    ----------
    first_blocks : polars.DataFrame
        As `student_change` takes them.
    events : polars.DataFrame or None
        `on_date` with any of `student_id` (new club, long break; with `club` only that club), `bay_id` (device moved
        or recalibrated); a null means every one. A row is dropped when an event that concerns it lies after it and not
        after the student's last session.
    """
    if events is None or events.is_empty():
        return first_blocks
    rows = first_blocks.with_row_index("_row").with_columns(_last=pl.col("day").max().over("student_id"))
    dropped = []
    for key in (["student_id"], ["student_id", "club"], ["bay_id"]):
        if not set(key) <= set(events.columns):
            continue
        mine = events.filter(pl.all_horizontal(pl.col(key).is_not_null()))
        if key == ["student_id"] and "club" in events.columns:
            mine = mine.filter(pl.col("club").is_null())
        mine = mine.with_columns(pl.col(key).cast(pl.String), pl.col("on_date").cast(pl.Date))
        across = (pl.col("day") < pl.col("on_date")) & (pl.col("on_date") <= pl.col("_last"))
        dropped.append(rows.join(mine.select(*key, "on_date"), on=key).filter(across).select("_row"))
    gone = pl.concat([rows.head(0).select("_row"), *dropped]).unique()
    return rows.join(gone, on="_row", how="anti", maintain_order="left").drop("_row", "_last")


def student_change(
    first_blocks: pl.DataFrame,
    components: pl.DataFrame | None = None,
    events: pl.DataFrame | None = None,
    offsets: pl.DataFrame | None = None,
    pooled_sessions: int = POOLED_SESSIONS,
) -> pl.DataFrame:
    """Compare each student's first sessions with the latest.

    Parameters
    ----------
    first_blocks, components, offsets : polars.DataFrame
        As `two_blocks.cells` takes them.
    events : polars.DataFrame, optional
        As `comparable` takes them.
    pooled_sessions : int
        Sessions in each block, fewer for students with fewer than twice as many (half of theirs, rounded down).

    Returns
    -------
    polars.DataFrame
        Rows of mart.student_change (`SCHEMA`) for students with two or more sessions; metric's unit. In the measure
        'distance', for metrics that are better nearer to zero, down is better. `ci_low, ci_high` are of `change`;
        `beyond` says whether the change beyond expected is beyond the minimal detectable change with the error of what
        is expected added (where too little free practice lasts as long, nothing is expected and it is the change
        alone); `q_value` controls false discoveries over the students of one metric, club group and
        measure (Benjamini & Hochberg 1995), of the change beyond expected.

    Notes
    -----
    MDC95 = 1.96 sqrt(s_b^2 (1/k1 + 1/k2) + s_w^2 (1/n1 + 1/n2) + offsets), n the harmonic number of shots, k^2 over
    the sum of 1/n of the sessions (all shots where sessions are alike). It is also half the interval of the change.
    """
    rows = comparable(first_blocks, events)
    found = [_cell_rows(cell, pooled_sessions) for cell in cells(rows, components, offsets) if cell.measure != "spread"]
    if not found:
        return pl.DataFrame(schema=SCHEMA)
    whole = pl.concat(found).with_columns(pl.col(pl.Float64).fill_nan(None))
    return whole.sort("student_id", "club_group", "metric", "measure")


def first_and_latest(student: Ints, pooled_sessions: int) -> tuple[Flags, Flags]:
    """Mark each student's first and latest sessions, entries sorted by student and day; none for a lone session."""
    count = np.bincount(student)
    rank = np.arange(student.size) - (np.cumsum(count) - count)[student]
    k = np.minimum(pooled_sessions, count // 2)[student]
    return rank < k, rank >= count[student] - k


def _cell_rows(cell: Cell, pooled_sessions: int) -> pl.DataFrame:
    from scipy.special import ndtr

    first, latest = first_and_latest(cell.student, pooled_sessions)
    result = compare(cell, first, latest)
    seen = np.flatnonzero(result.first_sessions > 0)
    mdc = Z95 * np.sqrt(result.variance[seen])
    change, expected = result.change[seen], result.expected[seen]
    beyond = change - np.nan_to_num(expected)
    error = np.sqrt(result.variance[seen] + np.nan_to_num(result.expected_error[seen]) ** 2)
    with np.errstate(divide="ignore", invalid="ignore"):
        p = 2 * ndtr(-np.abs(beyond) / error)
    size = len(cell.ids)
    begin, end = np.full(size, np.iinfo(np.int64).max), np.full(size, -1)
    np.minimum.at(begin, cell.student[first], cell.week[first])
    np.maximum.at(end, cell.student[latest], cell.week[latest])
    return pl.DataFrame(
        {
            "student_id": [cell.ids[i] for i in seen],
            "club_group": cell.club_group,
            "metric": cell.metric,
            "measure": cell.measure,
            "first_week": mondays(begin[seen]),
            "latest_week": mondays(end[seen]),
            "first_sessions": result.first_sessions[seen],
            "latest_sessions": result.latest_sessions[seen],
            "first_centre": result.first[seen],
            "latest_centre": result.latest[seen],
            "change": change,
            "ci_low": change - mdc,
            "ci_high": change + mdc,
            "expected_change": expected,
            "change_beyond_expected": change - expected,
            "minimal_detectable_change": mdc,
            "beyond": np.abs(beyond) > Z95 * error,
            "p_value": p,
            "q_value": q_values(p),
        }
    ).select(pl.col(name).cast(kind) for name, kind in SCHEMA.items())  # where nobody came twice: no values, no types


def mondays(week: Ints) -> pl.Series:
    """Dates of the Mondays of whole weeks counted from the epoch's Thursday, as `Cell.week` counts them."""
    # 1970-01-01 was a Thursday: day number // 7 of a Monday comes back as that Monday by adding four days.
    return pl.Series(week * 7 + 4).cast(pl.Int32).cast(pl.Date)
