"""What can be observed by eye, read from measures.csv: the list is data, and an academy may add its own.

The limits catch typing errors (a stance in inches, a weight over 100%), not unusual people; common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import polars as pl

DEFAULT = Path(__file__).with_name("measures.csv")
_SCHEMA = {
    "measure": pl.String, "unit": pl.String, "description": pl.String, "low": pl.Float64, "high": pl.Float64,
}  # fmt: skip


def measures(own: Path | None = None) -> pl.DataFrame:
    """Return the measures: measure, unit, description, low, high.

    Parameters
    ----------
    own
        An academy's own list of the same columns; its rows come after, and take the place of defaults of that name.
    """
    default = pl.read_csv(DEFAULT, schema=_SCHEMA)
    if own is None or not own.exists():
        return default
    added = pl.read_csv(own, schema=_SCHEMA)
    return pl.concat([default.join(added, on="measure", how="anti"), added])
