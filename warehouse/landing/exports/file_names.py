"""Which bay a file in a night's folder is of, by its name: `<bay_id>.<ext>`, or `<bay_id>.<anything>.<ext>`.

A bay's night may come in several files: B01.csv, B01.morning.csv, B01-2.csv, `B01 (2).csv` are all bay B01's.
Not here: what is in them.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from functools import cached_property
from pathlib import Path

import duckdb

from warehouse.landing.reference import read_csv
from warehouse.schema.declaration import Table
from warehouse.schema.raw import BAY, LESSON

SUFFIXES = (
    ".csv.gz", ".tsv.gz", ".jsonl.gz", ".json.gz", ".csv", ".tsv", ".txt", ".parquet", ".jsonl", ".json",
    ".xlsx", ".xlsm", ".xls", ".xlsb", ".ods",
)  # fmt: skip
SEPARATORS = ".-_ ("
"""What may stand between a bay's id and the rest of a file's name."""


def split_name(name: str) -> tuple[str, str]:
    """Return (stem, suffix) of an export's file name; the suffix is empty where it is no known kind."""
    for suffix in SUFFIXES:
        if name.lower().endswith(suffix) and len(name) > len(suffix):
            return name[: -len(suffix)], suffix
    return name.partition(".")[0], ""


class BayNames:
    """The bays that files may be of.

    Parameters
    ----------
    bays
        Ids in bays.csv.
    gone
        Returns ids that are or were in use elsewhere (booked, or loaded before); asked only where a name could be
        that of a further file, so that the files of a bay taken out of bays.csv are not read as another's.
    """

    def __init__(self, bays: Collection[str], gone: Callable[[], Collection[str]] = tuple) -> None:
        self.bays, self._gone = frozenset(bays), gone

    @cached_property
    def _every(self) -> frozenset[str]:
        return self.bays | frozenset(self._gone())

    def bay_of(self, stem: str) -> str:
        """Return the bay that a file is of, by its name without suffix; the whole stem where that begins with none."""
        if stem in self.bays or _longest(stem, self.bays) is None:
            return stem
        return _longest(stem, self._every) or stem


def _longest(stem: str, ids: Collection[str]) -> str | None:
    """Return the longest id that a stem is, or begins with before a separator."""
    begun = (stem[:at] for at in range(len(stem), 0, -1) if at == len(stem) or stem[at] in SEPARATORS)
    return next((start for start in begun if start in ids), None)


def bay_names(landing: Path, con: duckdb.DuckDBPyConnection | None = None) -> BayNames:
    """Return which bays files may be of; ids that lessons book, or that were loaded from before, count as bays gone."""

    def ids(table: Table) -> set[str]:
        rows = read_csv.read(landing / "academy" / read_csv.file_name(table), table).rows
        return {row["bay_id"] for row in rows}

    def gone() -> set[str]:
        rows = con.execute("select distinct bay_id from raw.export_file where in_force").fetchall() if con else []
        return ids(LESSON) | {row[0] for row in rows}

    return BayNames(ids(BAY), gone)
