"""One row: one student's response to one drill, or one place in the strip that luck alone would show."""

from __future__ import annotations

import polars as pl

from warehouse.build.reads_episodes import EPISODE_READS
from warehouse.domain.drill_effect import responders
from warehouse.settings.settings import Settings

READS = EPISODE_READS


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Shrink every student's own response, and number the strips' places."""
    found = responders.student_response(frames["episodes"], metrics=frames["metrics"]).drop("horizon")
    strip = ["drill_id", "metric", "club_group", "strip"]
    place = pl.col("response").rank("ordinal").over(strip).cast(pl.Int64).alias("place")
    return found.sort(*strip, "response", "student_id").with_columns(place)
