"""One row: one number a shot can have, for one club group, with the academy's own smallest change that matters."""

from __future__ import annotations

import polars as pl

from warehouse.schema.metrics import CLUB_GROUPS, METRICS
from warehouse.settings.settings import Settings

READS: dict[str, str] = {}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Tell the declarations as rows, in the display units that the academy set."""
    made = []
    for metric in METRICS:
        display, factor = metric.shown_in(settings.units.system)
        made += [
            {
                "metric": metric.name,
                "club_group": group,
                "label": metric.label,
                "unit": metric.unit,
                "display_unit": display,
                "per_display_unit": factor,
                "decimals": metric.decimals,
                "low": float(metric.low),
                "high": float(metric.high),
                "matters_from": float(settings.matters_from(metric.name, group)),
                "better": metric.better_for(group),
                "derived": metric.derived,
                "description": metric.description,
            }
            for group in CLUB_GROUPS
        ]
    return pl.DataFrame(made)
