"""New rows put beside what a home's tables hold: nothing that stands there is lost, differences are told.

What was corrected in the home since stays; `take` names columns in which the workbook wins. Not here: making rows.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from warehouse.landing.reference.read_csv import file_name
from warehouse.schema.declaration import Table
from warehouse.schema.raw import REFERENCE_TABLES

Row = dict[str, str]
BY_NAME = {file_name(table).removesuffix(".csv"): table for table in REFERENCE_TABLES}
KEYS = {"drill_log": ("lesson_id", "drill_id", "starts_at")}


@dataclass
class Merged:
    """One table with the new rows in it.

    Attributes
    ----------
    added, filled, differing
        New rows; cells that were empty; cells in which workbook and home differ and the home's was kept, in words.
    taken
        Cells in which the workbook's was taken.
    gone
        Keys of rows of the home that the workbook does not have; they stay.
    """

    header: list[str]
    rows: list[Row]
    added: list[Row] = field(default_factory=list)
    filled: int = 0
    taken: int = 0
    differing: list[str] = field(default_factory=list)
    gone: int = 0

    @property
    def changed(self) -> bool:
        """Return whether there is anything to write."""
        return bool(self.added or self.filled or self.taken)

    def text(self) -> str:
        """Return the table as CSV."""
        out = io.StringIO()
        writer = csv.DictWriter(out, self.header, restval="", lineterminator="\n", extrasaction="ignore")
        writer.writeheader()
        writer.writerows(self.rows)
        return out.getvalue()


def read_table(academy: Path, table: Table) -> tuple[list[str], list[Row]]:
    """Return the header and rows of a table as they stand; the declared header where there is none."""
    declared = [name for name in table.column_names if name != "line"]
    path = academy / file_name(table)
    if not path.exists():
        return declared, []
    reader = csv.DictReader(io.StringIO(path.read_bytes().decode("utf-8-sig"), newline=""), restval="")
    rows = [{name.strip(): (text or "").strip() for name, text in row.items() if name is not None} for row in reader]
    header = [name.strip() for name in reader.fieldnames or declared]
    return [*header, *(name for name in declared if name not in header)], [row for row in rows if any(row.values())]


def merge(name: str, academy: Path, rows: Sequence[Row], take: Collection[str] = ()) -> Merged:
    """Return a table with new rows beside what it holds.

    Parameters
    ----------
    name
        The table, as its file is named.
    academy
        landing/academy.
    rows
        The workbook's.
    take
        "table.column" in which the workbook wins over the home.
    """
    table = BY_NAME[name]
    header, there = read_table(academy, table)
    key = KEYS.get(name, table.key)
    by_key = {tuple(row.get(column, "") for column in key): row for row in there}
    done, seen = Merged(header, there), set()
    for row in rows:
        at = tuple(row.get(column, "") for column in key)
        seen.add(at)
        old = by_key.get(at)
        if old is None:
            done.added.append(row)
            by_key[at] = row
            continue
        for column, text in row.items():
            if column in key or not text or old.get(column, "") == text:
                continue
            if not old.get(column):
                old[column], done.filled = text, done.filled + 1
            elif f"{name}.{column}" in take:
                old[column], done.taken = text, done.taken + 1
            elif old is not row:
                done.differing.append(
                    f"{' '.join(at)}, {column}: '{text}' in the workbook, '{old[column]}' here is kept"
                )
    done.rows = [*there, *done.added]
    done.gone = sum(tuple(row.get(column, "") for column in key) not in seen for row in there)
    return done
