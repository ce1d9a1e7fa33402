"""One reference table's file as text and as typed values, with its faults in words.

Not here: what rows must satisfy among each other (reference_rules.py), nor the database (reference.py).
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from warehouse.landing.path_safety import SHOWN, in_words, misplaced
from warehouse.schema.declaration import Column, Table

OPTIONAL_FILES = ("observations.csv", "events.csv", "enrolments.csv", "terms.csv")
SHOWN_NAMES = 12
PLURALS = {"coach": "coaches", "drill_log": "drill_log"}


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a reference table. `line` counts from 1, the header included; None: the whole file."""

    file: str
    line: int | None
    column: str | None
    value: str | None
    problem: str
    remedy: str

    def __str__(self) -> str:
        """Return the fault in one sentence."""
        where = (
            f"{self.file}" + (f" line {self.line}" if self.line else "") + (f", {self.column}" if self.column else "")
        )
        said = f" '{in_words(self.value, SHOWN)}'" if self.value else ""
        return f"{where}{said}: {self.problem}; {self.remedy}"


@dataclass
class Content:
    """What a file says: rows by column (text, with "line"), and its faults.

    `fatal` are faults of the whole file; `spoiled` spoil one row, which is left out.
    """

    rows: list[dict[str, Any]] = field(default_factory=list)
    fatal: list[Fault] = field(default_factory=list)
    spoiled: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def file_name(table: Table) -> str:
    """Return the name of a reference table's file."""
    name = table.name.split(".")[1]
    return PLURALS.get(name, name + "s") + ".csv"


def read(path: Path, table: Table) -> Content:
    """Return a file's rows, typed by the table's declaration, and everything wrong with them."""
    name, content = path.name, Content()
    text = _text(path, content)
    if text is None:
        return content
    reader = csv.reader(io.StringIO(text, newline=""))
    try:
        header = [cell.strip() for cell in next(reader, [])]
    except csv.Error as fault:
        content.fatal.append(Fault(name, 1, None, None, f"is no CSV ({fault})", "correct the line"))
        return content
    declared = [column for column in table.columns if column.name != "line"]
    if _header_serves(name, header, declared, content):
        for line, said in _rows(reader, name, len(header), content):
            _take(name, line, dict(zip(header, said, strict=False)), declared, content)
    return content


def _text(path: Path, content: Content) -> str | None:
    """Return what a file says; None, and the fault where there must be a file, where it says nothing to go by."""

    def fatal(line: int | None, problem: str, remedy: str) -> None:
        content.fatal.append(Fault(path.name, line, None, None, problem, remedy))

    if wrong := misplaced(path, path.parent.parent):
        fatal(None, *wrong.split(": ", 1))
        return None
    try:
        said = path.read_bytes()
        text = said.decode("utf-8-sig")
    except FileNotFoundError:
        if path.name not in OPTIONAL_FILES:
            fatal(None, "is missing", "put it into landing/academy")
        return None
    except OSError as fault:
        fatal(None, f"cannot be read ({fault.strerror})", "check its rights")
        return None
    except UnicodeDecodeError as fault:
        fatal(said[: fault.start].count(b"\n") + 1, "is not UTF-8", "save it as UTF-8")
        return None
    if line := _open_quote(text):
        fatal(line, "a quote is opened and never closed", "close it")
        return None
    return text


def _open_quote(text: str) -> int | None:
    """Return the line on which a quote is opened that swallows the rest of the file."""
    if text.count('"') % 2 == 0:
        return None
    reader, start, before = csv.reader(io.StringIO(text, newline="")), 0, 0
    try:
        for _ in reader:
            start, before = before + 1, reader.line_num
    except csv.Error:
        return None
    rest = "".join(io.StringIO(text, newline="").readlines()[start - 1 :])
    return start if before > start and rest.count('"') % 2 else None


def _header_serves(name: str, header: list[str], declared: list[Column], content: Content) -> bool:
    names = [column.name for column in declared]
    for column in declared:
        if column.name not in header and not column.nullable:
            content.fatal.append(
                Fault(name, 1, column.name, None, f"no such column (found: {_shown(header) or 'nothing'})", "add it")
            )
    extra = [cell for cell in header if cell not in names]
    if extra:
        content.warnings.append(f"{name}: column {_shown(extra)} is not known and kept out")
    twice = sorted({cell for cell in header if cell in names and header.count(cell) > 1})
    content.fatal += [Fault(name, 1, cell, None, "stands twice in the header", "remove one") for cell in twice]
    return not content.fatal


def _shown(names: list[str]) -> str:
    """Return names of columns as a message tells them: the first few, none too long."""
    told = ", ".join(in_words(name, SHOWN) for name in names[:SHOWN_NAMES])
    return in_words(told, 4 * SHOWN) + (", ..." if len(names) > SHOWN_NAMES else "")


def _rows(reader: Any, name: str, width: int, content: Content) -> Any:
    """Yield (line, cells) of every row that is not blank; a row with too many cells is spoiled."""
    before = reader.line_num
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as fault:
            content.fatal.append(Fault(name, reader.line_num, None, None, f"is no CSV ({fault})", "correct the line"))
            return
        line, before = before + 1, reader.line_num
        if not any(cell.strip() for cell in cells):
            continue
        if any(cell.strip() for cell in cells[width:]):
            content.spoiled.append(
                Fault(
                    name,
                    line,
                    None,
                    None,
                    f"{len(cells)} cells where the header has {width}",
                    "quote cells with commas",
                )
            )
            continue
        yield line, cells


def _take(name: str, line: int, said: dict[str, str], declared: list[Column], content: Content) -> None:
    row: dict[str, Any] = {"line": line}
    spoiled = False
    for column in declared:
        text = said.get(column.name, "").strip()
        if not text:
            row[column.name] = None
            if not column.nullable:
                content.spoiled.append(Fault(name, line, column.name, None, "is empty and required", "fill it"))
                spoiled = True
            continue
        try:
            row[column.name] = typed(text, column)
        except ValueError as fault:
            content.spoiled.append(Fault(name, line, column.name, text, "cannot be read", str(fault)))
            spoiled = True
    if not spoiled:
        content.rows.append(row)


def typed(text: str, column: Column) -> Any:
    """Return a value typed and checked by its column's declaration.

    Raises
    ------
    ValueError
        Naming what is expected.
    """
    if column.type == "DATE":
        return _iso(dt.date.fromisoformat, text, "write a date such as 2024-02-19")
    if column.type == "TIMESTAMP":
        moment = _iso(dt.datetime.fromisoformat, text, "write a local time such as 2024-02-19T10:30:00")
        if moment.tzinfo is not None or len(text) <= len("2024-02-19"):
            raise ValueError("write a local time such as 2024-02-19T10:30:00, without offset")
        return moment
    if column.type == "DOUBLE":
        return _number(text, column)
    if column.values and text not in column.values:
        raise ValueError(f"write one of {', '.join(column.values)}")
    return text


def _iso(parse: Any, text: str, expected: str) -> Any:
    try:
        return parse(text)
    except ValueError:
        raise ValueError(expected) from None


def _number(text: str, column: Column) -> float:
    try:
        value = float("nan" if "_" in text else text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ValueError("write a number such as 12.5")
    low, high = column.low, column.high
    if (low is not None and value < low) or (high is not None and value > high):
        raise ValueError(f"write a number from {low:g} to {high:g}")
    return value
