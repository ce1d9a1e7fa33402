"""One row: one bay, with its site and the air there."""

from __future__ import annotations

import polars as pl

from warehouse.domain.flight import air_density
from warehouse.settings.settings import Settings

READS = {
    "bays": """
select
    bay.bay_id,
    bay.site_id,
    site.name as site_name,
    site.timezone,
    site.altitude_m,
    bay.export_profile,
    bay.setting,
    bay.ball
from raw.bay as bay
join raw.site as site using (site_id)
"""
}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Add the standard atmosphere's density at the site's altitude."""
    bays = frames["bays"]
    return bays.with_columns(air_density=pl.Series(air_density.density(altitude_m=bays["altitude_m"].to_numpy())))
