"""One row: one drill, metric, measure, club group and horizon, with its effect beyond free practice."""

from __future__ import annotations

import polars as pl

from warehouse.domain import drill_effect
from warehouse.episode_rows import EPISODE_READS
from warehouse.settings import Settings

READS = EPISODE_READS


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Estimate."""
    return drill_effect.estimate(frames["episodes"], metrics=frames["metrics"])
