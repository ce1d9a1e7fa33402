"""One row: one drill, characteristic of students and level of it: does the effect differ?"""

from __future__ import annotations

import polars as pl

from warehouse.build.reads_episodes import EPISODE_READS
from warehouse.domain.drill_effect import subgroups
from warehouse.settings.settings import Settings

READS = {
    **EPISODE_READS,
    "students": "select student_id, handed, handicap, born_on from raw.student order by student_id",
}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Compare kinds of students by one interaction model."""
    return subgroups.subgroups(frames["episodes"], frames["students"], metrics=frames["metrics"])
