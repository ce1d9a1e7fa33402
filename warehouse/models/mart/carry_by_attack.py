"""One row: one club speed and attack angle, with the best carry and the model's uncertainty about the difference."""

from __future__ import annotations

import polars as pl

from warehouse.domain.delivery.carry_grid import CLUB_SPEEDS, best_carry_by_attack
from warehouse.settings.settings import Settings

READS: dict[str, str] = {}
LEVEL = 0.0


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Draw the line of every club speed, its band laid on at a level hit."""
    lines = [best_carry_by_attack(speed, LEVEL).with_columns(club_speed=pl.lit(float(speed))) for speed in CLUB_SPEEDS]
    return pl.concat(lines)
