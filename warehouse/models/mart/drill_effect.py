"""One row: one drill, metric, measure, club group and horizon, with its effect beyond free practice."""

from __future__ import annotations

import polars as pl

from warehouse.build.reads_episodes import EPISODE_READS
from warehouse.domain.drill_effect import headline
from warehouse.settings.settings import Settings

READS = EPISODE_READS


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Estimate."""
    return headline.estimate(frames["episodes"], metrics=frames["metrics"])
