"""One row: one cohort, pair of windows, club group and metric: before and after of the students seen in both."""

from __future__ import annotations

import polars as pl

from warehouse.build.reads_first_blocks import CHANGE_READS, by_kind
from warehouse.domain.change import cohort_change
from warehouse.settings.settings import Settings

ENROLMENTS = """
select student_id, cohort, from_date, to_date
from mart.cohort_member
union all
select student_id, 'all students', null, null
from raw.student
order by all
"""
READS = {**CHANGE_READS, "enrolments": ENROLMENTS}
KEY = ["cohort", "before_from", "after_from", "club_group", "metric"]


def named(found: pl.DataFrame, weeks: pl.Series) -> pl.DataFrame:
    """Keep the measure each metric is told by (distance where there is one), and name the pair of windows."""
    windows = cohort_change.default_windows(weeks)
    first = pl.lit(windows[0].before_from if windows else None, dtype=pl.Date)
    pair = pl.when(pl.col("before_from") == first).then(pl.lit("term")).otherwise(pl.lit("recent"))
    distances = found.filter(pl.col("measure") == "distance")
    keys = distances.select(KEY).unique()
    centres = found.filter(pl.col("measure") == "centre").join(keys, on=KEY, how="anti")
    return pl.concat([centres, distances]).with_columns(pair.alias("window_pair"))


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Compare; direction numbers by their distance from zero, spreads beside."""
    blocks, enrolments = frames["first_blocks"], frames["enrolments"]
    windows = cohort_change.default_windows(blocks["week"])
    found = by_kind(
        blocks,
        frames["events"],
        lambda part, events: cohort_change.cohort_change(part, enrolments, windows, events=events),
    )
    spreads = found.filter(pl.col("measure") == "spread").select(
        *KEY,
        pl.col("before").exp().alias("spread_before"),
        pl.col("after").exp().alias("spread_after"),
        pl.col("change").alias("spread_change"),
        pl.col("ci_low").alias("spread_low"),
        pl.col("ci_high").alias("spread_high"),
    )
    return named(found, blocks["week"]).join(spreads, on=KEY, how="left")
