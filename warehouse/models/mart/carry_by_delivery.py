"""One row: one delivery on a grid, by the flight model on standard air at sea level."""

from __future__ import annotations

import polars as pl

from warehouse.domain.delivery.carry_grid import carry_by_delivery
from warehouse.settings.settings import Settings

READS: dict[str, str] = {}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Lay out the grid and mark the best loft of every club speed and attack angle."""
    best = (pl.col("carry") == pl.col("carry").max().over("club_speed", "attack_angle")).alias("best_loft")
    return carry_by_delivery().with_columns(best)
