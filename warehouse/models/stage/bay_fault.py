"""One row: one number of a bay on a night being built that cannot be what its profile says."""

from __future__ import annotations

import polars as pl

from warehouse.domain.bays.plausibility import faults
from warehouse.settings.settings import Settings

READS = {
    "shots": """
select
    shot.night,
    shot.bay_id,
    shot.club,
    club.club_group,
    shot.club_speed,
    shot.ball_speed,
    shot.attack_angle,
    shot.club_path,
    shot.face_angle,
    shot.dynamic_loft,
    shot.launch_angle,
    shot.launch_direction,
    shot.spin_axis,
    shot.carry,
    shot."lateral",
    flight.model_carry
from stage.attributed_shot as shot
join stage.club as club using (club)
join stage.shot_flight as flight using (shot_number)
"""
}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Look at every bay's night; those that a person has looked at and found right are let be."""
    found = faults(frames["shots"])
    return found.filter(~pl.col("bay_id").is_in(settings.numbers_checked()))
