"""Which numbers a page is about: the term's goal numbers with their cohorts, and the drills that move one number.

Not here: how they are drawn or told.
"""

from __future__ import annotations

from typing import Any

import polars as pl

from dashboard.shell.page_context import Reading
from dashboard.text import words


def goal_rows(read: Reading, most: int) -> list[tuple[dict[str, Any], pl.DataFrame]]:
    """Return the term's goal numbers, the most practised first, each with its cohorts' rows that have an interval.

    Only cohorts of today; where no cohort is, those that were. A term too young to be compared with its own start is
    compared with the last one, else the latest weeks are with those before.

    Parameters
    ----------
    read
        What is read.
    most
        How many numbers at most.
    """
    for window in words.WINDOWS:
        changes = read.ask("cohort_change", window_pair=window).filter(pl.col("ci_low").is_not_null())
        if changes.height:
            break
    if changes.filter(pl.col("present") & (pl.col("cohort") != words.ALL_STUDENTS)).height:
        changes = changes.filter("present")
    found = []
    for goal in read.ask("goal_metrics").iter_rows(named=True):
        rows = changes.filter((pl.col("metric") == goal["metric"]) & (pl.col("club_group") == goal["club_group"]))
        if rows.height:
            found.append((goal, rows))
    return found[:most]


def drill_rows(read: Reading, club_group: str, metric: str) -> tuple[pl.DataFrame, str, str | None]:
    """Return the drills that move a number, how their aims are measured, and which way is better (up, down, None)."""
    for measure in ("centre", "distance"):
        rows = read.ask("drill_comparison", metric=metric, club_group=club_group, measure=measure)
        aims = rows.filter(pl.col("is_aim"))
        if aims.height:
            known = aims["better"].drop_nulls()
            return rows, measure, known[0] if known.len() else None
    return read.ask("drill_comparison", metric=metric, club_group=club_group, measure="centre"), "centre", None
