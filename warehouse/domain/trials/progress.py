"""How a running trial does against its plan: recruitment, balance, adherence, missing follow-up.

Counts only, no outcome by arm: what is shown here may be seen at any time. Not here: looks at outcomes (trial_monitor).
"""

from __future__ import annotations

from datetime import date, timedelta
from math import ceil, sqrt
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

RECRUITMENT: dict[str, Any] = {
    "week": pl.Date, "entered": pl.Int64, "entered_so_far": pl.Int64, "planned_so_far": pl.Float64,
}  # fmt: skip
BALANCE: dict[str, Any] = {
    "arm": pl.String, "characteristic": pl.String, "students": pl.Int64, "mean": pl.Float64,
    "reference_mean": pl.Float64, "standardised_difference": pl.Float64,
}  # fmt: skip
ARMS: dict[str, Any] = {
    "arm": pl.String, "drawn": pl.Int64, "done_as_drawn": pl.Int64, "done_other": pl.Int64, "not_done": pl.Int64,
    "declined_after_draw": pl.Int64, "adherence": pl.Float64, "followed": pl.Int64, "missing": pl.Int64,
}  # fmt: skip


def standardised_difference(one: ArrayLike, other: ArrayLike) -> float:
    """Difference of two means over the root mean of their variances; NaN left out; NaN where it cannot be told.

    For 0/1 characteristics the variances are p(1 - p). Austin 2009, Stat Med 28:3083. In small trials values of .3 and
    more come by luck; it describes, it tests nothing.
    """
    a, b = (x[np.isfinite(x)] for x in (np.asarray(v, dtype=np.float64) for v in (one, other)))
    if min(a.size, b.size) < 2:
        return float("nan")
    binary = bool(np.isin(np.concatenate([a, b]), (0.0, 1.0)).all())
    spread = (a.var(ddof=0 if binary else 1) + b.var(ddof=0 if binary else 1)) / 2
    difference = float(a.mean() - b.mean())
    if spread > 0:
        return difference / sqrt(spread)
    return 0.0 if difference == 0 else float("nan")


def balance(participants: pl.DataFrame, characteristics: list[str], reference: str) -> pl.DataFrame:
    """Compare each arm with the reference before the trial began: `BALANCE`.

    Parameters
    ----------
    participants : `arm` and the characteristics as numbers (0/1 for yes and no), one row a student drawn.
    """
    rows = []
    base = participants.filter(pl.col("arm") == reference)
    for arm in sorted(set(participants["arm"]) - {reference}):
        here = participants.filter(pl.col("arm") == arm)
        for name in characteristics:
            a, b = (x[name].cast(pl.Float64).drop_nulls().to_numpy() for x in (here, base))
            means = [float(x.mean()) if x.size else None for x in (a, b)]
            off = standardised_difference(a, b)
            rows.append([arm, name, int(a.size), *means, off if np.isfinite(off) else None])
    return pl.DataFrame(rows, schema=BALANCE, orient="row")


def recruitment(entered_on: list[date], begun: date, today: date, students: int, weeks: float) -> pl.DataFrame:
    """Students entered by week, Mondays from the first to today's, against an even pace: `RECRUITMENT`."""
    first = begun - timedelta(days=begun.weekday())
    number = max((today - first).days // 7 + 1, 1)
    days = np.array([(day - first).days for day in entered_on if day <= today], dtype=np.int64)
    counts = np.bincount(np.maximum(days, 0) // 7, minlength=number)[:number]
    ends = np.minimum((np.arange(1, number + 1) * 7 - begun.weekday()) / 7.0, (today - begun).days / 7.0)
    planned = np.clip(ends / weeks, 0.0, 1.0) * students if weeks > 0 else np.full(number, float(students))
    return pl.DataFrame(
        {
            "week": [first + timedelta(weeks=i) for i in range(number)], "entered": counts,
            "entered_so_far": counts.cumsum(), "planned_so_far": planned,
        },
        schema=RECRUITMENT,
    )  # fmt: skip


def weeks_left(entered: int, weeks_so_far: float, students: int) -> tuple[float, float] | None:
    """Weeks until full at the pace so far, as an 80% interval; None where nobody has been entered.

    Exact Poisson limits of the pace (Garwood 1936, Biometrika 28:437).
    """
    from scipy.special import gammaincinv

    wanted = students - entered
    if wanted <= 0:
        return 0.0, 0.0
    if entered == 0 or weeks_so_far <= 0:
        return None
    slow, fast = float(gammaincinv(entered, 0.1)), float(gammaincinv(entered + 1, 0.9))
    return wanted * weeks_so_far / fast, wanted * weeks_so_far / slow


def pace_sentence(entered: int, students: int, weeks_so_far: float) -> str:
    """Say how far recruitment is and when it would be full."""
    left = weeks_left(entered, weeks_so_far, students)
    if not entered:
        return f"Nobody of {students} has been entered yet."
    if left is None:
        return f"{entered} of {students} students entered; on the first day there is no pace to tell yet."
    if left == (0.0, 0.0):
        return f"All {students} students have been entered."
    low, high = ceil(left[0]), ceil(left[1])
    span = f"{low} to {high} weeks" if low != high else f"{low} weeks" if low != 1 else "a week"
    return f"{entered} of {students} students entered; at this pace full in {span} (eight in ten)."


def arms(participants: pl.DataFrame) -> pl.DataFrame:
    """Count by arm what became of those drawn: `ARMS`.

    Parameters
    ----------
    participants : one row a student drawn: `arm`, `done` (what was done, null: nothing), `declined` (after the draw),
        `followed` (an outcome was measured).
    """
    same = pl.col("done") == pl.col("arm")
    count = lambda condition: condition.fill_null(False).sum().cast(pl.Int64)  # noqa: E731
    return (
        participants.group_by("arm")
        .agg(
            pl.len().cast(pl.Int64).alias("drawn"),
            count(same).alias("done_as_drawn"),
            count(~same).alias("done_other"),
            count(pl.col("done").is_null()).alias("not_done"),
            count(pl.col("declined")).alias("declined_after_draw"),
            (count(same) / pl.len()).alias("adherence"),
            count(pl.col("followed")).alias("followed"),
            (pl.len().cast(pl.Int64) - count(pl.col("followed"))).alias("missing"),
        )
        .sort("arm")
        .select(pl.col(name).cast(kind) for name, kind in ARMS.items())
    )
