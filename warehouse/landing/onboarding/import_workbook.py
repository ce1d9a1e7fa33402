"""An academy's own lists, in a workbook or CSV files of its own shape, taken over by a mapping.

The mapping is TOML, one table each: `[students] sheet = "People"` (or `file = "people.csv"`) and under
`[students.columns]` canonical column = header, or `{ from = header, map = { said = meant } }`, or `{ value = fixed }`.
Not here: writing them (start.py).
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from warehouse.landing.reference.read_csv import file_name
from warehouse.schema.declaration import Table
from warehouse.schema.raw import REFERENCE_TABLES

Tables = dict[str, list[dict[str, str]]]
"""Table (raw's name) -> rows as text by canonical column."""
BY_FILE = {file_name(table).removesuffix(".csv"): table for table in REFERENCE_TABLES}


class ColumnFrom(BaseModel):
    """Where one column comes from: a header, perhaps with a map, or one fixed value."""

    model_config = ConfigDict(extra="forbid")

    source: str | None = Field(default=None, alias="from")
    map: dict[str, str] = {}
    value: str | None = None

    @model_validator(mode="after")
    def _one_of_two(self) -> ColumnFrom:
        if (self.source is None) == (self.value is None):
            raise ValueError("needs either from or value")
        return self


class TableFrom(BaseModel):
    """Where one table comes from."""

    model_config = ConfigDict(extra="forbid")

    sheet: str | None = None
    file: str | None = None
    columns: dict[str, str | ColumnFrom]


def take(source: Path, mapping: Path | None) -> Tables:
    """Return the tables a source holds.

    Raises
    ------
    ValueError
        Naming the file, sheet or key at fault.
    """
    sheets = _sheets(source)
    wanted = _read_mapping(mapping) if mapping else _by_name(sheets)
    taken: Tables = {}
    for name, how in wanted.items():
        table = BY_FILE[name]
        sheet = (how.sheet or how.file or name).removesuffix(".csv")
        if sheet not in sheets:
            raise ValueError(f"there is no sheet or file '{sheet}' in {source} (there are: {', '.join(sheets)})")
        taken[table.name] = _rows(table, how, sheet, sheets[sheet])
    return taken


def _read_mapping(path: Path) -> dict[str, TableFrom]:
    try:
        said = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as fault:
        raise ValueError(f"{path.name} cannot be read: {fault}") from None
    wanted: dict[str, TableFrom] = {}
    for name, how in said.items():
        if name not in BY_FILE:
            raise ValueError(f"{path.name}: {name} is no table; those are {', '.join(BY_FILE)}")
        try:
            wanted[name] = TableFrom.model_validate(how)
        except ValidationError as fault:
            error = fault.errors()[-1]
            key = ".".join(str(part) for part in error["loc"])
            raise ValueError(f"{path.name}: {name}.{key}: {error['msg']}") from None
        unknown = [column for column in wanted[name].columns if column not in _names(BY_FILE[name])]
        if unknown:
            raise ValueError(
                f"{path.name}: {name}.columns.{unknown[0]} is no column; those are {', '.join(_names(BY_FILE[name]))}"
            )
    return wanted


def _names(table: Table) -> list[str]:
    return [name for name in table.column_names if name != "line"]


def _by_name(sheets: Mapping[str, list[list[str]]]) -> dict[str, TableFrom]:
    wanted = {
        name: TableFrom(sheet=name, columns={cell: cell for cell in rows[0] if cell in _names(BY_FILE[name])})
        for name, rows in sheets.items()
        if name in BY_FILE and rows
    }
    if not wanted:
        raise ValueError(f"no sheet or file is named like a table ({', '.join(BY_FILE)}): give a mapping")
    return wanted


def _rows(table: Table, how: TableFrom, sheet: str, cells: list[list[str]]) -> list[dict[str, str]]:
    header = cells[0] if cells else []
    places: dict[str, tuple[int, dict[str, str]]] = {}
    fixed: dict[str, str] = {}
    for name, column in how.columns.items():
        source = ColumnFrom(**{"from": column}) if isinstance(column, str) else column
        if source.source is None:
            fixed[name] = source.value or ""
        elif source.source not in header:
            raise ValueError(f"there is no column '{source.source}' in '{sheet}' (there are: {', '.join(header)})")
        else:
            places[name] = (header.index(source.source), source.map)
    rows = []
    for line in cells[1:]:
        if any(line):
            said = {name: line[at] if at < len(line) else "" for name, (at, _) in places.items()}
            rows.append(fixed | {name: places[name][1].get(text, text) for name, text in said.items()})
    types = {column.name: column.type for column in table.columns}
    return [{name: _date_only(text) if types[name] == "DATE" else text for name, text in row.items()} for row in rows]


def _date_only(text: str) -> str:
    """Return a workbook's date without its midnight."""
    return text.removesuffix("T00:00:00")


def _sheets(source: Path) -> dict[str, list[list[str]]]:
    if not source.exists():
        raise ValueError(f"there is no {source}")
    if source.suffix.lower() == ".xlsx":
        return _workbook(source)
    files = sorted(source.glob("*.csv")) if source.is_dir() else [source]
    return {file.stem: _csv(file) for file in files}


def _csv(file: Path) -> list[list[str]]:
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError(f"{file.name} is not UTF-8: save it as UTF-8") from None
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    return [[cell.strip() for cell in row] for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)]


def _workbook(source: Path) -> dict[str, list[list[str]]]:
    import openpyxl

    try:
        book = openpyxl.load_workbook(source, read_only=True, data_only=True)
    except Exception as fault:
        raise ValueError(f"{source.name} is no workbook that can be read ({fault})") from None
    return {
        sheet.title: [[_as_text(cell) for cell in row] for row in sheet.iter_rows(values_only=True)]
        for sheet in book.worksheets
    }


def _as_text(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, dt.datetime | dt.date):
        return cell.isoformat()
    return str(cell).strip()
