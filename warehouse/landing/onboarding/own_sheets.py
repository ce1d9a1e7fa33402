"""An academy's own sheets: where each one's header stands, which table it is, and which column is which.

Not here: how the columns are read (propose_mapping.py says it, own_rows.py does it).
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from warehouse.landing.learning.cells import looks_like_value
from warehouse.landing.learning.grids import NoTableError, read_grids
from warehouse.landing.learning.words import bare

WORDS_FILE = Path(__file__).with_name("workbook_words.toml")
TABLES = ("students", "coaches", "lessons", "bays", "drills", "sites")
TELLING = {"lessons": ("date", "start"), "students": ("name",), "coaches": ("name",), "bays": ("bay_id",),
           "drills": ("name",), "sites": ("name",)}  # fmt: skip
"""What a sheet must have to be a table's."""
LINES_ABOVE = 30
SUFFIXES = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods", ".csv", ".tsv", ".txt")


@dataclass
class OwnSheet:
    """One sheet: its header's row (from 1), rows and their numbers, the table it is, and column -> header."""

    name: str
    header_row: int
    header: list[str]
    rows: list[list[str]]
    numbers: list[int]
    table: str | None = None
    columns: dict[str, str] = field(default_factory=dict)

    def texts(self, header: str) -> list[str]:
        """Return one column's cells, by its header."""
        place = self.header.index(header)
        return [row[place] if place < len(row) else "" for row in self.rows]


@cache
def vocabulary() -> dict[str, Any]:
    """Return the words file."""
    return tomllib.loads(WORDS_FILE.read_text(encoding="utf-8"))


def _holds(words: str, said: list[str]) -> int:
    """Return how many words of a header are among a column's."""
    known = words.split()
    exact = {word for word in known if not word.endswith("*")}
    stems = tuple(word[:-1] for word in known if word.endswith("*"))
    return sum(word in exact or bool(stems and word.startswith(stems)) for word in said)


def _words(text: str) -> list[str]:
    split = re.sub(r"(?<=[a-zà-þ])(?=[A-ZÀ-Þ])", " ", text)
    return [word for word in re.split(r"[^a-z]+", bare(split)) if word]


def read_sheets(source: Path) -> list[OwnSheet]:
    """Return the sheets of a workbook, or the files of a folder, that hold a table.

    Raises
    ------
    ValueError
        The source is not there or cannot be read.
    """
    if not source.exists():
        raise ValueError(f"there is no {source}")
    files = sorted(one for one in source.iterdir() if one.suffix.lower() in SUFFIXES) if source.is_dir() else [source]
    sheets: list[OwnSheet] = []
    for file in files:
        try:
            grids = read_grids(file, strict=False)
        except NoTableError as fault:
            raise ValueError(str(fault)) from None
        for grid in grids:
            sheet = _sheet(grid.sheet or file.stem, grid.rows, grid.lines)
            if sheet is not None:
                sheets.append(sheet)
    for sheet in sheets:
        _recognise(sheet)
    return sheets


def _sheet(name: str, rows: list[list[str]], lines: list[int]) -> OwnSheet | None:
    """Return a sheet from its header on: the row above the longest run of rows that fill most of its cells."""
    best, best_score = None, 0.0
    for at, row in enumerate(rows[:LINES_ABOVE]):
        filled = [cell for cell in row if cell]
        if len(filled) < 2 or any(looks_like_value(cell) for cell in filled) or len(set(filled)) < len(filled):
            continue
        under = sum(sum(bool(cell) for cell in below) >= min(2, len(filled)) for below in rows[at + 1 : at + 40])
        known = sum(
            any(_holds(words, _words(cell)) for table in TABLES for words in vocabulary()[table].values())
            for cell in filled
        )
        score = (len(filled) + 2 * known) * min(under, 5)
        if score > best_score:
            best, best_score = at, score
    if best is None:
        return None
    header = [" ".join(cell.split()) for cell in rows[best]]
    under = zip(rows[best + 1 :], lines[best + 1 :], strict=True)
    body = [(row, line) for row, line in under if any(row) and [" ".join(c.split()) for c in row] != header]
    return OwnSheet(name, lines[best], header, [row for row, _ in body], [line for _, line in body])


def _recognise(sheet: OwnSheet) -> None:
    """Set the table that a sheet is, by its name and its columns."""
    scores: dict[str, tuple[float, dict[str, str]]] = {}
    for table in TABLES:
        columns = _columns(sheet, vocabulary()[table])
        if not all(column in columns for column in TELLING[table]) and not (
            table == "students" and "last_name" in columns
        ):
            continue
        named = 3.0 * bool(_holds(vocabulary()["sheets"][table], _words(sheet.name)))
        scores[table] = (named + len(columns) + (2.0 if table == "lessons" else 0.0), columns)
    if scores:
        sheet.table = max(scores, key=lambda table: (scores[table][0], -TABLES.index(table)))
        sheet.columns = scores[sheet.table][1]


def _columns(sheet: OwnSheet, words: dict[str, str]) -> dict[str, str]:
    """Return column -> header: each header goes to the column whose words it holds most of, each column once."""
    found: list[tuple[float, int, str, str]] = []
    for place, header in enumerate(sheet.header):
        said = _words(header)
        for at, (column, known) in enumerate(words.items()):
            hits = _holds(known, said)
            if header and hits:
                exact = 1.0 if bare(header).strip() == column.replace("_", " ") or header.strip() == column else 0.0
                found.append((exact + hits / len(said) + 0.01 * hits - 0.001 * at, -place, column, header))
    columns: dict[str, str] = {}
    for _, _, column, header in sorted(found, reverse=True):
        if column not in columns and header not in columns.values():
            columns[column] = header
    return columns
