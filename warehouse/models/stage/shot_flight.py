"""One row: one shot of the nights being built, with what it would and could have carried by the flight model."""

from __future__ import annotations

import polars as pl

from warehouse.domain import air
from warehouse.domain.shot_columns import shot_columns
from warehouse.settings import Settings

READS = {
    "shots": """
select
    shot.shot_number,
    shot.student_id,
    club.club_group,
    shot.club_speed,
    shot.attack_angle,
    shot.dynamic_loft,
    shot.club_path,
    shot.face_angle,
    shot.ball_speed,
    shot.launch_angle,
    shot.spin_rate,
    shot.spin_axis,
    bay.ball,
    site.altitude_m
from stage.attributed_shot as shot
join stage.club as club using (club)
join raw.bay as bay using (bay_id)
join raw.site as site on bay.site_id = site.site_id
"""
}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Fly every shot at its site's standard air; what was not measured stays null."""
    shots = frames["shots"]
    flight = settings.flight
    limits = pl.DataFrame(
        list(flight.student_attack_high.items()), {"student_id": pl.String, "attack_high": pl.Float64}, orient="row"
    )
    altitudes = shots["altitude_m"].unique()
    densities = pl.DataFrame({"altitude_m": altitudes, "air_density": air.density(altitude_m=altitudes.to_numpy())})
    given = (
        shots.join(densities, on="altitude_m", maintain_order="left")
        .join(limits, on="student_id", how="left", maintain_order="left")
        .with_columns(ball_factor=pl.when(pl.col("ball") == "range").then(flight.range_ball_speed).otherwise(1.0))
    )
    flown = shot_columns(given, reachable=flight.attack_high)
    return pl.concat([shots.select("shot_number"), flown.drop("carry_gap")], how="horizontal").rename(
        {"model_spin_source": "model_spin"}
    )
