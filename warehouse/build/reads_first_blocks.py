"""What the models of change read: sessions' first blocks, and what interrupts them."""

from __future__ import annotations

from collections.abc import Callable

import polars as pl

from warehouse.schema.metrics import METRICS

FIRST_BLOCKS = """
select
    block.* exclude (night),
    block.night as day
from core.first_block as block
order by all
"""
EVENTS = "select student_id, bay_id, club, on_date, kind from core.interruption order by all"
CHANGE_READS = {"first_blocks": FIRST_BLOCKS, "events": EVENTS}


def by_kind(
    first_blocks: pl.DataFrame, events: pl.DataFrame, compare: Callable[[pl.DataFrame, pl.DataFrame], pl.DataFrame]
) -> pl.DataFrame:
    """Compare numbers of the ball across no event, and numbers of the club alone across changes of balls too."""
    of_ball = pl.col("metric").is_in([metric.name for metric in METRICS if metric.of_ball])
    club_events = events.filter(pl.col("kind") != "balls changed")
    return pl.concat(
        [
            compare(first_blocks.filter(of_ball), events.drop("kind")),
            compare(first_blocks.filter(~of_ball), club_events.drop("kind")),
        ]
    )
