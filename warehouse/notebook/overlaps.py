"""Drills of one student that would run at the same time. Not here: how an entry is written (store.py)."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import polars as pl

from warehouse.notebook.store import Store, current

LONGEST = timedelta(hours=6)
"""How long a drill that nobody ended may have run: what begins later does not meet it."""


def overlapping(
    store: Store, student_id: str, starts_at: datetime, ends_at: datetime, but: str | None = None
) -> dict[str, Any] | None:
    """Return a drill of this student, as it stands, that runs between two local times; None where there is none.

    Parameters
    ----------
    but
        The first entry of the drill that is asked about: it does not meet itself.
    """
    open_until = pl.when(pl.col("ends_at").is_null()).then(pl.col("starts_at") + LONGEST).otherwise("ends_at")
    met = current(store, "drill_entry").filter(
        (pl.col("student_id") == student_id)
        & (pl.col("first_entry_id") != (but or ""))
        & (pl.col("starts_at") < ends_at)
        & (open_until > starts_at)
    )
    return met.sort("starts_at").row(0, named=True) if met.height else None
