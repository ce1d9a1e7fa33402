"""One row: one drill, metric, measure, club group and horizon, with its effect beyond free practice."""

from __future__ import annotations

import polars as pl

from warehouse.build.reads_episodes import EPISODE_READS
from warehouse.domain.drill_effect import headline
from warehouse.settings.settings import Settings

READS = {
    **EPISODE_READS,
    "running_trials": "select distinct drill_id from raw.drawn_lot where ends_on is null order by all",
}
WITHHELD = ("drawn_effect", "drawn_low", "drawn_high")
"""What lots alone say of a drill: nobody reads it while a trial of that drill runs."""


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Estimate; what lots say of a drill in a running trial is withheld."""
    effects = headline.estimate(frames["episodes"], metrics=frames["metrics"])
    running = pl.col("drill_id").is_in(frames["running_trials"]["drill_id"].to_list())
    return effects.with_columns(pl.when(~running).then(pl.col(name)).alias(name) for name in WITHHELD)
