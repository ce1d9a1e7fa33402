"""Who is listed as better or worse on the own goal number: the same call two weeks running, false discoveries held.

Not here: a student's change and its noise (change.py), the order or length of a list.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl

from warehouse.domain.statistics.false_discovery import q_values

RATE = 0.05
WEEK = dt.timedelta(days=7)
SCHEMA = {
    "student_id": pl.String,
    "metric": pl.String,
    "club_group": pl.String,
    "latest_week": pl.Date,
    "change_beyond_expected": pl.Float64,
    "p_value": pl.Float64,
    "q_value": pl.Float64,
    "side": pl.String,
    "side_week_before": pl.String,
    "listed": pl.Boolean,
}


def as_of_week_before(first_blocks: pl.DataFrame) -> pl.DataFrame:
    """Return the blocks (with `day`) known seven days before the last of them."""
    last = first_blocks["day"].max()
    return first_blocks.filter(pl.col("day") <= last - WEEK) if isinstance(last, dt.date) else first_blocks


def calls(changes: pl.DataFrame, goals: pl.DataFrame) -> pl.DataFrame:
    """Return each student's call on the goal number.

    Parameters
    ----------
    changes : polars.DataFrame
        Rows of `change.student_change`, both measures.
    goals : polars.DataFrame
        One row a student: `student_id, metric, club_group, better` ('up', 'down' or 'zero').

    Returns
    -------
    polars.DataFrame
        One row a student with a goal and a change: `student_id, metric, club_group, latest_week,
        change_beyond_expected` (the plain change where nothing is expected; of 'zero' the distance's), `p_value,
        q_value` (Benjamini & Hochberg 1995 over these rows), `side` ('better' or 'worse' where beyond noise and
        q <= `RATE`, else null).
    """
    key = ["student_id", "metric", "club_group"]
    measure = pl.when(pl.col("better") == "zero").then(pl.lit("distance")).otherwise(pl.lit("centre"))
    mine = (
        goals.with_columns(measure.alias("measure"))
        .join(changes, on=[*key, "measure"], how="inner")
        .with_columns(pl.coalesce("change_beyond_expected", "change").alias("change_beyond_expected"))
        .sort("student_id")
    )
    p = mine["p_value"].fill_null(np.nan).to_numpy().astype(float)
    gain = pl.col("change_beyond_expected") * pl.when(pl.col("better") == "up").then(1.0).otherwise(-1.0)
    side = pl.when(gain > 0).then(pl.lit("better")).otherwise(pl.lit("worse"))
    return mine.with_columns(pl.Series("q_value", q_values(p)).fill_nan(None)).select(
        *key, "latest_week", "change_beyond_expected", pl.col("p_value").fill_nan(None), "q_value",
        pl.when(pl.col("beyond") & (pl.col("q_value") <= RATE)).then(side).alias("side"),
    )  # fmt: skip


def two_weeks_running(now: pl.DataFrame, before: pl.DataFrame) -> pl.DataFrame:
    """Return rows of mart.student_list (`SCHEMA`): `calls` of now beside those as of the week before."""
    earlier = before.select("student_id", pl.col("side").alias("side_week_before"))
    return (
        now.join(earlier, on="student_id", how="left")
        .with_columns((pl.col("side") == pl.col("side_week_before")).fill_null(False).alias("listed"))
        .select(pl.col(name).cast(kind) for name, kind in SCHEMA.items())
        .sort("student_id")
    )
