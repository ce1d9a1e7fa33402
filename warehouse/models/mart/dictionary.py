"""One row: one column of one published table."""

from __future__ import annotations

import polars as pl

from warehouse.schema.dictionary import entries
from warehouse.settings.settings import Settings

READS: dict[str, str] = {}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Tell the declarations as rows."""
    return pl.DataFrame(entries())
