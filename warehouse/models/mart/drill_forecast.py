"""One row: one student and drill, with the change beyond free practice to expect of the next episode."""

from __future__ import annotations

import polars as pl

from warehouse.build.reads_episodes import EPISODE_READS
from warehouse.domain.drill_effect import forecast
from warehouse.settings.settings import Settings

READS = {**EPISODE_READS, "effects": "select * from mart.drill_effect"}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Forecast."""
    return forecast.forecast(frames["episodes"], frames["effects"], metrics=frames["metrics"])
