"""One row: one bay, metric and week, with the bay's offset that week and its running CUSUM."""

from __future__ import annotations

import polars as pl

from warehouse.domain.bays import drift
from warehouse.models.core import bay_epoch
from warehouse.settings.settings import Settings

READS = {
    **bay_epoch.READS,
    "offsets": """
select bay_id, metric, nullif(from_date, date '1900-01-01') as from_date, bay_offset
from core.bay_epoch
""",
}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Watch the offsets; where a week holds two stretches the later one stands."""
    # Stretches begin at events, and at steps that nobody logged: the offsets know of both.
    begun = frames["offsets"].select("bay_id", on_date="from_date").drop_nulls().unique().sort("bay_id", "on_date")
    history = drift.flag(frames["sessions"], frames["offsets"], begun)
    return (
        history.sort("bay_id", "metric", "week", "from_date", nulls_last=False)
        .unique(["bay_id", "metric", "week"], keep="last", maintain_order=True)
        .select("bay_id", "metric", "week", "weekly_offset", "standard_error", "cusum_high", "cusum_low", "drifting")
    )
