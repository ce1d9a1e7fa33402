"""One row: one student, club group and metric: first blocks against latest blocks, beside noise and free practice."""

from __future__ import annotations

import polars as pl

from warehouse.build.reads_first_blocks import CHANGE_READS, by_kind
from warehouse.domain.change import student_change
from warehouse.settings.settings import Settings

READS = CHANGE_READS
KEY = ["student_id", "club_group", "metric"]


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Compare; the distance of direction numbers stands beside their centre."""
    found = by_kind(
        frames["first_blocks"],
        frames["events"],
        lambda blocks, events: student_change.student_change(blocks, events=events),
    )
    centres = found.filter(pl.col("measure") == "centre").drop("measure")
    distances = found.filter(pl.col("measure") == "distance").select(
        *KEY,
        pl.col("change").alias("distance_change"),
        pl.col("ci_low").alias("distance_low"),
        pl.col("ci_high").alias("distance_high"),
    )
    return centres.join(distances, on=KEY, how="left")
