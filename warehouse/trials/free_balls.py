"""The free balls of a free-practice arm: when they begin, how many were hit, kept in the notebook for every tablet.

Not here: what they measured (core.free_arm), how they are read (outcomes.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any, NamedTuple

import polars as pl

from warehouse.domain.trials.randomisation import FREE_PRACTICE, ORDER_MARK
from warehouse.notebook.store import NotebookRefused, Store, current, enter, withdraw
from warehouse.notebook.trial_tables import BALLS
from warehouse.trials.plan import Plan

MOST_AT_ONCE = 100
STARTS: dict[str, Any] = {
    "trial_id": pl.String, "student_id": pl.String, "at": pl.Datetime("us"), "begun_by": pl.String,
    "most_balls": pl.Int32,
}  # fmt: skip


class Counted(NamedTuple):
    """Since when a student hits the arm's free balls on a day (None: not begun), and how many were counted."""

    since: datetime | None
    balls: int


def add(
    store: Store, *, trial_id: str, student_id: str, bay_id: str, at: datetime, balls: int, by: str,
    entry_id: str | None = None,
) -> str:  # fmt: skip
    """Enter that the free balls begin (`balls` 0) or that so many more were hit; return the entry.

    Raises
    ------
    NotebookRefused
        The student did not draw free practice, or the number cannot be.
    """
    lots = current(store, "trial_lot").filter((pl.col("trial_id") == trial_id) & (pl.col("student_id") == student_id))
    if not any(FREE_PRACTICE in arm.split(ORDER_MARK) for arm in lots["arm"]):
        raise NotebookRefused(f"{student_id} did not draw free practice in {trial_id}; no balls are counted.")
    if not 0 <= balls <= MOST_AT_ONCE:
        raise NotebookRefused(f"Balls hit are between 0 and {MOST_AT_ONCE}; check the number.")
    values = {"trial_id": trial_id, "student_id": student_id, "bay_id": bay_id, "at": at, "balls": balls}
    return enter(store, BALLS, by, values, entry_id)


def counted(store: Store, trial_id: str, student_id: str, day: date) -> Counted:
    """Return what was counted on a day, on whatever tablet."""
    rows = _of_day(store, trial_id, student_id, day)
    return Counted(rows.filter(pl.col("balls") == 0)["at"].min(), int(rows["balls"].sum()))  # type: ignore[arg-type]


def anew(store: Store, trial_id: str, student_id: str, day: date, by: str) -> int:
    """Take back what was counted on a day, the beginning too; return how many entries stood."""
    rows = _of_day(store, trial_id, student_id, day)
    for entry_id in rows["entry_id"]:
        withdraw(store, BALLS, entry_id, by)
    return rows.height


def _of_day(store: Store, trial_id: str, student_id: str, day: date) -> pl.DataFrame:
    mine = (pl.col("trial_id") == trial_id) & (pl.col("student_id") == student_id)
    return current(store, BALLS).filter(mine & (pl.col("at").dt.date() == day))


def free_starts(entries: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """Return each moment at which free balls of an arm began, as the night reads them: `STARTS`.

    Parameters
    ----------
    entries
        The notebook's tables as they stand. A tap is local time; the draw, for lots of free practice alone, is UTC.
    """
    most = pl.DataFrame(
        [
            (row["trial_id"], Plan.of_json(row["plan"]).free_practice_balls)
            for row in entries["trial"].iter_rows(named=True)
        ],
        schema={"trial_id": pl.String, "most_balls": pl.Int32},
        orient="row",
    )
    key = ["trial_id", "student_id"]
    taps = entries[BALLS].filter(pl.col("balls") == 0).select(*key, "at", begun_by=pl.lit("tap"))
    free = entries["trial_lot"].filter(pl.col("arm") == FREE_PRACTICE)
    draws = free.select(*key, at="entered_at", begun_by=pl.lit("draw"))
    both = pl.concat([taps, draws]).unique().join(most, on="trial_id")
    return both.select(pl.col(name).cast(kind) for name, kind in STARTS.items()).sort(*key, "at")
