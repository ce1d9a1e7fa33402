"""One row: one student in a pair of windows: the points behind mart.cohort_change, by the same rules."""

from __future__ import annotations

import polars as pl

from warehouse.build.reads_first_blocks import by_kind
from warehouse.domain.change import cohort_change as cohort
from warehouse.models.mart import cohort_change
from warehouse.settings.settings import Settings

READS = cohort_change.READS


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Return every student seen in the first window of a pair."""
    blocks, enrolments = frames["first_blocks"], frames["enrolments"]
    windows = cohort_change.windows_of(frames)
    found = by_kind(
        blocks,
        frames["events"],
        lambda part, events: cohort.cohort_students(part, enrolments, list(windows.values()), events=events),
    )
    return cohort_change.named(found, windows).drop("before_from", "after_from", "measure")
