"""What several models read alike, read once a run. Not here: what is read (the models' READS)."""

from __future__ import annotations

from collections import Counter

import duckdb
import polars as pl

from warehouse.build.model import models


class Frames:
    """Selects of the tables made whole: held from the first model that makes one to the last, then let go.

    A model comes after all that it reads, and each table is made once a run, so what is held stays true.
    """

    def __init__(self) -> None:
        made_whole = [model for model in models().values() if model.path.suffix == ".py" and not model.by_night]
        self._to_come = Counter(select for model in made_whole for select in model.module()[0].values())
        self._held: dict[str, pl.DataFrame] = {}

    def read(self, connection: duckdb.DuckDBPyConnection, select: str) -> pl.DataFrame:
        """Return a select's rows."""
        frame = self._held.pop(select, None)
        if frame is None:
            frame = connection.execute(select).pl()
        self._to_come[select] -= 1
        if self._to_come[select] > 0:
            self._held[select] = frame
        return frame
