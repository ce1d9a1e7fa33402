"""Did this group change between these weeks: each student once, only those seen in both windows, the missing counted.

Not here: single students (`change`), drills (`drill_effect`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import polars as pl

from warehouse.domain.change.paired_change import Cell, Compared, Flags, cells, compare
from warehouse.domain.change.student_change import Z95, comparable

MIN_STUDENTS = 3
"""Students without whom a mean change has no interval."""
WINDOW_WEEKS = 4
SCHEMA = {
    "cohort": pl.String,
    "before_from": pl.Date,
    "before_to": pl.Date,
    "after_from": pl.Date,
    "after_to": pl.Date,
    "club_group": pl.String,
    "metric": pl.String,
    "measure": pl.String,
    "students": pl.Int64,
    "students_only_before": pl.Int64,
    "before": pl.Float64,
    "after": pl.Float64,
    "change": pl.Float64,
    "ci_low": pl.Float64,
    "ci_high": pl.Float64,
    "expected_change": pl.Float64,
    "change_beyond_expected": pl.Float64,
    "beyond_low": pl.Float64,
    "beyond_high": pl.Float64,
    "share_beyond_mdc": pl.Float64,
}
STUDENT_SCHEMA = {name: SCHEMA[name] for name in ("cohort", "before_from", "after_from", "club_group", "metric")} | {
    "measure": pl.String,
    "student_id": pl.String,
    "before": pl.Float64,
    "after": pl.Float64,
}


class Windows(NamedTuple):
    """Two windows of whole weeks, both ends included: Mondays first, Sundays last."""

    before_from: dt.date
    before_to: dt.date
    after_from: dt.date
    after_to: dt.date


def default_windows(weeks: pl.Series) -> list[Windows]:
    """First four weeks against the last four, and the last four against the four before them.

    With fewer than eight weeks of data, the first half against the second (the middle week of an odd number is left
    out); with fewer than two, nothing.
    """
    first, last = weeks.cast(pl.Date).min(), weeks.cast(pl.Date).max()
    if not isinstance(first, dt.date) or not isinstance(last, dt.date):
        return []
    count = (last - first).days // 7 + 1
    size = min(WINDOW_WEEKS, count // 2)
    if size == 0:
        return []
    end, span = last + dt.timedelta(days=6), dt.timedelta(weeks=size)
    day = dt.timedelta(days=1)
    term = Windows(first, first + span - day, end + day - span, end)
    recent = Windows(end + day - 2 * span, end - span, end + day - span, end)
    return [term] if term == recent else [term, recent]


def cohort_change(
    first_blocks: pl.DataFrame,
    enrolments: pl.DataFrame,
    windows: list[Windows] | None = None,
    components: pl.DataFrame | None = None,
    events: pl.DataFrame | None = None,
    offsets: pl.DataFrame | None = None,
) -> pl.DataFrame:
    """Compare cohorts between windows of weeks.

    Parameters
    ----------
    first_blocks, components, offsets : polars.DataFrame
        As `two_blocks.cells` takes them.
    enrolments : polars.DataFrame
        `student_id, cohort, from_date, to_date` (either may be null: from always, still). A student belongs to a
        cohort in a comparison when enrolled on some day of the first window; in a cohort that began after it, when
        enrolled on some day of the second.
    windows : list of Windows, optional
        Default: `default_windows`.
    events : polars.DataFrame, optional
        As `change.comparable` takes them.

    Returns
    -------
    polars.DataFrame
        Rows of mart.cohort_change (`SCHEMA`). `before`, `after` and `change` are means over students seen in both
        windows, each counted once; the interval is by student (t); `expected_change` is what free practice alone would
        have changed over the same weeks, `change_beyond_expected` the rest, its interval with the expectation's own
        error; `share_beyond_mdc` the share of students whose own change is beyond their minimal detectable change;
        'spread' in logs; 'distance' down is better.
    """
    pairs = default_windows(first_blocks["week"]) if windows is None else windows
    listed = [(pair, _enrolled(pair, enrolments)) for pair in pairs]
    rows = comparable(first_blocks, events)
    found: list[dict] = []
    for cell in cells(rows, components, offsets):
        for pair, enrolled in listed:
            found += _cell_rows(cell, pair, enrolled)
    frame = pl.DataFrame(found, schema=SCHEMA) if found else pl.DataFrame(schema=SCHEMA)
    return frame.with_columns(pl.col(pl.Float64).fill_nan(None)).sort(
        "cohort", "before_from", "after_from", "club_group", "metric", "measure"
    )


def _inside(day: np.ndarray, begin: dt.date, end: dt.date) -> np.ndarray:
    epoch = dt.date(1970, 1, 1)
    return (day >= (begin - epoch).days) & (day <= (end - epoch).days)


def cohort_students(
    first_blocks: pl.DataFrame,
    enrolments: pl.DataFrame,
    windows: list[Windows] | None = None,
    events: pl.DataFrame | None = None,
) -> pl.DataFrame:
    """Return the students behind `cohort_change`, by the same rules (`STUDENT_SCHEMA`); null where not seen."""
    pairs = default_windows(first_blocks["week"]) if windows is None else windows
    listed = [(pair, _enrolled(pair, enrolments)) for pair in pairs]
    found = [pl.DataFrame(schema=STUDENT_SCHEMA)]
    for cell in cells(comparable(first_blocks, events)):
        for pair, enrolled in listed:
            result = _compared(cell, pair)
            seen = result.first_sessions > 0
            for name, mine in _members(cell, enrolled):
                here = seen & mine
                found.append(
                    pl.DataFrame(
                        {"student_id": np.array(cell.ids)[here], "before": result.first[here],
                         "after": result.latest[here]}
                    ).select(
                        pl.lit(name).alias("cohort"), pl.lit(pair.before_from).alias("before_from"),
                        pl.lit(pair.after_from).alias("after_from"), pl.lit(cell.club_group).alias("club_group"),
                        pl.lit(cell.metric).alias("metric"), pl.lit(cell.measure).alias("measure"), "student_id",
                        "before", "after",
                    )
                )  # fmt: skip
    return pl.concat(found, how="vertical_relaxed").with_columns(pl.col(pl.Float64).fill_nan(None))


def _compared(cell: Cell, pair: Windows) -> Compared:
    before = _inside(cell.day, pair.before_from, pair.before_to)
    return compare(cell, before, _inside(cell.day, pair.after_from, pair.after_to))


Enrolled = list[tuple[str, pl.Series]]


def _enrolled(pair: Windows, enrolments: pl.DataFrame) -> Enrolled:
    """Every cohort with those enrolled in it on some day of the first window; one that began later, of the second.

    So that who left since is counted as missing, and a cohort of today stands beside the weeks before it began.
    """

    def on_some_day(begin: dt.date, end: dt.date) -> pl.DataFrame:
        return enrolments.filter(
            (pl.col("from_date").is_null() | (pl.col("from_date") <= end))
            & (pl.col("to_date").is_null() | (pl.col("to_date") >= begin))
        )

    first = on_some_day(pair.before_from, pair.before_to)
    later = on_some_day(pair.after_from, pair.after_to).join(first, on="cohort", how="anti")
    enrolled = pl.concat([first, later])
    return [
        (str(name), members["student_id"].unique().implode())
        for (name,), members in enrolled.group_by(["cohort"], maintain_order=True)
    ]


def _members(cell: Cell, enrolled: Enrolled) -> Iterator[tuple[str, Flags]]:
    """Yield every cohort with which of the cell's students are in it."""
    ids = pl.Series(cell.ids, dtype=pl.String)
    for name, members in enrolled:
        yield name, ids.is_in(members).to_numpy()


def _cell_rows(cell: Cell, pair: Windows, enrolled: Enrolled) -> list[dict]:
    result = _compared(cell, pair)
    both = (result.first_sessions > 0) & (result.latest_sessions > 0)
    only = (result.first_sessions > 0) & (result.latest_sessions == 0)
    with np.errstate(invalid="ignore"):
        own_beyond = np.abs(result.change) > Z95 * np.sqrt(result.variance)
    rows = []
    for name, mine in _members(cell, enrolled):
        here = both & mine
        if not here.any() and not (only & mine).any():
            continue
        change, expected = result.change[here], result.expected[here]
        half, mean = _half_interval(change), _mean(change)
        beyond = _mean(change - expected)
        # All students share one expectation: its error does not average out over them.
        beyond_half = np.hypot(_half_interval(change - expected), Z95 * _mean(result.expected_error[here]))
        rows.append(
            {"cohort": name}
            | pair._asdict()
            | {
                "club_group": cell.club_group,
                "metric": cell.metric,
                "measure": cell.measure,
                "students": int(here.sum()),
                "students_only_before": int((only & mine).sum()),
                "before": _mean(result.first[here]),
                "after": _mean(result.latest[here]),
                "change": mean,
                "ci_low": mean - half,
                "ci_high": mean + half,
                "expected_change": _mean(expected),
                "change_beyond_expected": beyond,
                "beyond_low": beyond - beyond_half,
                "beyond_high": beyond + beyond_half,
                "share_beyond_mdc": _mean(own_beyond[here].astype(float)),
            }
        )
    return rows


def _half_interval(change: np.ndarray) -> float:
    from scipy.special import stdtrit

    n = change.size
    if n < MIN_STUDENTS:
        return float("nan")
    return float(stdtrit(n - 1, 0.975) * change.std(ddof=1) / np.sqrt(n))


def _mean(values: np.ndarray) -> float:
    return float(values.mean()) if values.size else float("nan")
