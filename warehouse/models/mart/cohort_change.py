"""One row: one cohort, pair of windows, club group and metric: before and after of the students seen in both."""

from __future__ import annotations

import polars as pl

from warehouse.change_rows import CHANGE_READS
from warehouse.domain import cohort
from warehouse.settings import Settings

READS = {**CHANGE_READS, "enrolments": "select student_id, cohort, from_date, to_date from mart.cohort_member"}
KEY = ["cohort", "window_pair", "before_from", "before_to", "after_from", "after_to", "club_group", "metric"]


def window_pair(weeks: pl.Series) -> pl.Expr:
    """Return the windows' name: the first pair compares the ends of the term, the other the latest weeks."""
    windows = cohort.default_windows(weeks)
    first = pl.lit(windows[0].before_from if windows else None, dtype=pl.Date)
    return pl.when(pl.col("before_from") == first).then(pl.lit("term")).otherwise(pl.lit("recent")).alias("window_pair")


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Compare; direction numbers by their distance from zero, spreads beside."""
    blocks = frames["first_blocks"]
    found = cohort.cohort_change(blocks, frames["enrolments"], events=frames["events"]).with_columns(
        window_pair(blocks["week"])
    )
    distances = found.filter(pl.col("measure") == "distance")
    centres = found.filter(pl.col("measure") == "centre").join(distances, on=KEY, how="anti")
    spreads = found.filter(pl.col("measure") == "spread").select(
        *KEY,
        pl.col("before").exp().alias("spread_before"),
        pl.col("after").exp().alias("spread_after"),
        pl.col("change").alias("spread_change"),
        pl.col("ci_low").alias("spread_low"),
        pl.col("ci_high").alias("spread_high"),
    )
    return pl.concat([centres, distances]).join(spreads, on=KEY, how="left")
