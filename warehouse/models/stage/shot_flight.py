"""One row: one shot of the nights being built, with what it would and could have carried by the flight model."""

from __future__ import annotations

import polars as pl

from warehouse.domain.flight.shot_air_density import air_densities
from warehouse.domain.flight.shot_flight import shot_columns
from warehouse.settings.settings import Settings

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
    shot.air_temperature,
    shot.air_pressure,
    shot.air_humidity,
    shot.bay_id,
    bay.setting,
    bay.ball,
    site.altitude_m
from stage.attributed_shot as shot
join stage.club as club using (club)
join raw.bay as bay using (bay_id)
join raw.site as site on bay.site_id = site.site_id
"""
}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Fly every shot through the air of its bay; what was not measured stays null."""
    shots = frames["shots"]
    flight = settings.flight
    limits = pl.DataFrame(
        list(flight.student_attack_high.items()), {"student_id": pl.String, "attack_high": pl.Float64}, orient="row"
    )
    density = air_densities(shots, settings.set_air())
    given = (
        shots.with_columns(air_density=pl.Series(density, dtype=pl.Float64))
        .join(limits, on="student_id", how="left", maintain_order="left")
        .with_columns(ball_factor=pl.when(pl.col("ball") == "range").then(flight.range_ball_speed).otherwise(1.0))
    )
    flown = shot_columns(given, reachable=flight.attack_high)
    flown = flown.drop("carry_gap").rename({"model_spin_source": "model_spin"})
    air = given["air_density"].fill_nan(None)
    return pl.concat([shots.select("shot_number"), air.to_frame(), flown], how="horizontal")
