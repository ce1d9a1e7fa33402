"""Sheets of a workbook as grids. Real dates and numbers become text that the profile's other rules can read.

Not here: which sheet holds a table (table.py).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars as pl
from python_calamine import CalamineError, CalamineWorkbook

from warehouse.landing.cells.grid import SCHEMA, Grid
from warehouse.landing.cells.people import Students
from warehouse.landing.lines.byte_scan import RefusedError
from warehouse.landing.profile.profile import Profile

MIDNIGHT = dt.time()


def read_grids(path: Path, profile: Profile, students: Students) -> Iterator[Grid]:
    """Yield the sheets that a profile reads, in their order.

    Raises
    ------
    RefusedError
        It is no workbook, or no sheet has a name that fits.
    """
    try:
        book = CalamineWorkbook.from_path(str(path))
        names = book.sheet_names
    except (CalamineError, OSError, ValueError) as fault:
        raise RefusedError(f"is no workbook that can be opened ({fault}): save it as .xlsx or .ods again") from None
    pattern = profile.file.sheets
    told = [f"sheet {at}" if students.named_in(name) else name for at, name in enumerate(names, start=1)]
    fitting = [name for name in names if pattern is None or pl.Series([name]).str.contains(pattern).item()]
    if not fitting:
        raise RefusedError(f"no sheet's name fits sheets = '{pattern}' (there are: {', '.join(told)})")
    first_line = 0
    for name, shown in zip(names, told, strict=True):
        try:
            rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
        except (CalamineError, ValueError) as fault:
            raise RefusedError(f"the sheet '{shown}' cannot be read ({fault}): save the workbook again") from None
        if name in fitting:
            yield Grid(_frame(rows, profile.file.decimal), name, shown, first_line)
        first_line += len(rows)


def _frame(rows: list[list[Any]], decimal: str) -> pl.DataFrame:
    cells = [[cell_text(value, decimal) for value in row] for row in rows]
    return pl.DataFrame(
        {
            "line": range(1, len(cells) + 1),
            "text": ["\t".join(row).rstrip("\t") for row in cells],
            "cells": cells,
            "fault": [None] * len(cells),
        },
        schema=SCHEMA,
    )


def cell_text(value: Any, decimal: str) -> str:
    """Return a typed cell as text: a number with the profile's mark, a date or time as ISO 8601 writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float | int):
        return (str(int(value)) if float(value).is_integer() else repr(float(value))).replace(".", decimal)
    if isinstance(value, dt.datetime):
        return str(value.date()) if value.time() == MIDNIGHT else value.isoformat(sep=" ")
    if isinstance(value, dt.timedelta):
        return (dt.datetime.min + value).time().isoformat() if dt.timedelta() <= value < dt.timedelta(1) else str(value)
    return "" if value is None else value.isoformat() if isinstance(value, dt.date | dt.time) else str(value)
