"""One row: one cohort, pair of windows, club group and metric: before and after of the students seen in both."""

from __future__ import annotations

import polars as pl

from warehouse.build.reads_first_blocks import CHANGE_READS, by_kind
from warehouse.domain.change import cohort_change, terms
from warehouse.domain.change.cohort_change import Windows
from warehouse.settings.settings import Settings

EVERYBODY = "all students"
ENROLMENTS = """
select student_id, cohort, from_date, to_date
from mart.cohort_member
union all
select student_id, 'all students', null, null
from raw.student
order by all
"""
TERMS = "select term_id, name, from_date, to_date, site_id from raw.term order by all"
READS = {**CHANGE_READS, "enrolments": ENROLMENTS, "terms": TERMS}
KEY = ["cohort", "before_from", "after_from", "club_group", "metric"]


def windows_of(frames: dict[str, pl.DataFrame]) -> dict[str, Windows]:
    """Return the pairs of windows by name, by the term that the last day with a first block belongs to."""
    days = frames["first_blocks"]["day"]
    if days.is_empty():
        return {}
    first, last = days.min(), days.max()
    members = frames["enrolments"].filter(pl.col("cohort") != EVERYBODY)
    now, before = terms.terms_at(frames["terms"], members, first, last)
    return terms.term_windows(now, before, first, last)


def present(frames: dict[str, pl.DataFrame]) -> list[str]:
    """Return the cohorts that somebody is in on the last day."""
    last = frames["first_blocks"]["day"].max()
    began = pl.col("from_date").is_null() | (pl.col("from_date") <= last)
    stays = pl.col("to_date").is_null() | (pl.col("to_date") >= last)
    return frames["enrolments"].filter(began & stays)["cohort"].unique().to_list()


def named(found: pl.DataFrame, windows: dict[str, Windows]) -> pl.DataFrame:
    """Keep the measure each metric is told by (distance where there is one), and name the pair of windows."""
    pairs = pl.DataFrame(
        [{"window_pair": name, "before_from": pair.before_from, "after_from": pair.after_from}
         for name, pair in windows.items()],
        schema={"window_pair": pl.String, "before_from": pl.Date, "after_from": pl.Date},
    )  # fmt: skip
    distances = found.filter(pl.col("measure") == "distance")
    keys = distances.select(KEY).unique()
    centres = found.filter(pl.col("measure") == "centre").join(keys, on=KEY, how="anti")
    return pl.concat([centres, distances]).join(pairs, on=["before_from", "after_from"], how="left")


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Compare; direction numbers by their distance from zero, spreads beside."""
    blocks, enrolments = frames["first_blocks"], frames["enrolments"]
    windows = windows_of(frames)
    found = by_kind(
        blocks,
        frames["events"],
        lambda part, events: cohort_change.cohort_change(part, enrolments, list(windows.values()), events=events),
    )
    spreads = found.filter(pl.col("measure") == "spread").select(
        *KEY,
        pl.col("before").exp().alias("spread_before"),
        pl.col("after").exp().alias("spread_after"),
        pl.col("change").alias("spread_change"),
        pl.col("ci_low").alias("spread_low"),
        pl.col("ci_high").alias("spread_high"),
    )
    here = pl.col("cohort").is_in(present(frames)).alias("present")
    return named(found, windows).join(spreads, on=KEY, how="left").with_columns(here)
