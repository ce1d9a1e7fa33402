"""Fields that a file says once, outside its table: on a line, in a cell, in the name of file, sheet or folder.

A value on a line holds for the rows below it until the line comes again; one that is said once holds for the whole
file. Not here: paths in JSON (json_rows.py).
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

import polars as pl

from warehouse.landing.cells.grid import Grid
from warehouse.landing.profile.layout import CELL, OutsideField, first_group

AFTER_LABEL = re.compile(r"\s*(?:[:=]\s*(.*)|$)", re.DOTALL)


@dataclass(frozen=True)
class Origin:
    """What a file's place says: its name, the folder under inbox/<profile> ("" if none)."""

    file_name: str
    folder: str = ""
    inbox: bool = False
    """Whether it lay in the inbox, and so has to say its bay and night itself."""


def extracted(text: str, pattern: str) -> str | None:
    """Return what a pattern finds in a text: its first group, or the whole match; None where it does not match."""
    found = pl.Series([text]).str.extract(pattern, first_group(pattern)).item()
    return None if found is None else str(found)


def said_by_name(field: OutsideField, origin: Origin, sheet: str | None) -> str | None:
    """Return the value of a field that the name of file, folder or sheet says, or that is a constant."""
    if field.file_name is not None:
        return extracted(origin.file_name, field.file_name)
    if field.folder is not None:
        return extracted(origin.folder, field.folder)
    if field.sheet is not None:
        return extracted(sheet or "", field.sheet)
    return field.value


def found_on_lines(grid: Grid, name_field: OutsideField, may_be: pl.Series, delimiter: str) -> dict[int, str]:
    """Return line -> value for a field that stands on lines of the file itself.

    Parameters
    ----------
    grid
        The file or sheet.
    name_field
        A field with a label, pattern or cell.
    may_be
        Whether each line of the grid may be one outside the table.
    delimiter
        Between the cells of a text.
    """
    if name_field.cell is not None:
        column, line = _place(name_field.cell)
        row = grid.frame.filter(pl.col("line") == line)
        value = row["cells"].list.get(column, null_on_oob=True).item() if row.height else None
        return {line: value.strip()} if value and value.strip() else {}
    frame = grid.frame.filter(may_be)
    if name_field.pattern is not None:
        group = first_group(name_field.pattern)
        hits = frame.select("line", value=pl.col("text").str.extract(name_field.pattern, group)).drop_nulls()
        return {line: value.strip() for line, value in hits.rows() if value.strip()}
    label = name_field.label or ""
    near = frame.filter(pl.col("text").str.to_lowercase().str.contains(label.rstrip(":= ").lower(), literal=True))
    found = {line: _after(cells, label, delimiter) for line, cells in near.select("line", "cells").rows()}
    return {line: value for line, value in found.items() if value}


def _place(cell: str) -> tuple[int, int]:
    """Return column (from 0) and line (from 1) of a cell such as B3."""
    letters, line = CELL.match(cell).groups()  # type: ignore[union-attr]
    column = 0
    for letter in letters.upper():
        column = column * 26 + ord(letter) - ord("A") + 1
    return column - 1, int(line)


def _after(cells: list[str], label: str, delimiter: str) -> str | None:
    """Return what stands after a label: the rest of its cell, or the next cell that holds anything."""
    wanted = " ".join(label.rstrip(":= ").split()).casefold()
    for at, cell in enumerate(cells):
        text = cell.strip().lstrip("#").strip()
        if not text.casefold().startswith(wanted):
            continue
        rest = AFTER_LABEL.fullmatch(text[len(wanted) :])
        if rest is None:
            continue
        following = cells[at + 1 :]
        if not (rest[1] or "").strip():
            return next((other.strip() for other in following if other.strip()), None)
        # "Player: Roe, Ann" in a file with commas: what follows after a blank still belongs to the value.
        told = [rest[1]]
        for other in following:
            if not other.startswith(" ") or not other.strip():
                break
            told.append(other)
        return delimiter.join(told).strip()
    return None


def mapped(value: str | None, mapping: Mapping[str, str] | None) -> str | None:
    """Return a value through a field's map; one that the map does not know stays."""
    return value if value is None or not mapping else mapping.get(value.strip(), value)
