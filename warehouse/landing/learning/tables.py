"""Where in a grid the table stands: header, units row, rows of shots, and what is said outside it.

Not here: what the columns mean.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from warehouse.landing.learning import words
from warehouse.landing.learning.cells import as_number, is_nothing, looks_like_value
from warehouse.landing.learning.grids import Grid, NoTableError

LINES_ABOVE = 100
LEAST_COLUMNS = 3


@dataclass
class SampleTable:
    """A table in a grid.

    Attributes
    ----------
    header
        Names of the columns as they stand.
    header_at, units_rows
        Index of the header in the grid's rows, and how many rows right under it hold units.
    units
        The unit each column's units row or header says, canonical words; None where none is said.
    rows
        Index of every row under the header that may be a shot.
    repeated, blank
        Rows equal to the header under it; blank rows under it.
    labels
        (label, value, row index) of lines outside the table: "Player: X", or two cells.
    """

    grid: Grid
    header: list[str]
    header_at: int
    units_rows: int
    units: list[str | None]
    rows: list[int]
    repeated: list[int] = field(default_factory=list)
    blank: list[int] = field(default_factory=list)
    labels: list[tuple[str, str, int]] = field(default_factory=list)

    def texts(self, place: int, rows: list[int] | None = None) -> list[str]:
        """Return one column's cells."""
        cells = self.grid.rows
        return [cells[at][place] if place < len(cells[at]) else "" for at in (self.rows if rows is None else rows)]

    @property
    def lines_above(self) -> int:
        """Return the physical lines above the header."""
        return self.grid.lines[self.header_at] - 1


def find_table(grid: Grid) -> SampleTable:
    """Return the table of shots in a grid.

    Raises
    ------
    NoTableError
        There is no header with rows of values under it.
    """
    if grid.format in ("json", "jsonl", "parquet"):
        return _finish(grid, 0)
    values = [sum(map(looks_like_value, row)) for row in grid.rows]
    best, best_score = None, 0.0
    for at in range(min(len(grid.rows) - 1, LINES_ABOVE)):
        score = _header_score(grid, at, values)
        if score > best_score:
            best, best_score = at, score
    if best is None:
        what = f"sheet '{grid.sheet}'" if grid.sheet else "the file"
        raise NoTableError(
            f"{grid.path.name}: {what} has no header line with rows of values under it: a profile goes by the headers, "
            "so export it with them"
        )
    return _finish(grid, best)


def _header_score(grid: Grid, at: int, values: list[int]) -> float:
    """Return how much a row looks like the header: names that differ, known words, and rows of values below."""
    row = grid.rows[at]
    filled = [cell for cell in row if cell]
    if len(filled) < LEAST_COLUMNS or values[at] > len(filled) // 2:
        return 0.0
    if all(words.unit_of(cell) or cell.strip("()[]-. ") == "" for cell in filled):
        return 0.0
    names = [cell for cell in filled if not looks_like_value(cell)]
    below = [n for n in range(at + 1, min(at + 60, len(grid.rows))) if grid.rows[n] != row]
    under = 0
    for n in below:
        there = grid.rows[n]
        reach = sum(bool(cell) for cell in there[: len(row)])
        if values[n] >= 2 and reach >= max(2, len(filled) // 3):
            under += 1
    first = next((n for n in below if values[n] >= max(2, len(filled) // 4)), None)
    if not under or first is None:
        return 0.0
    known = sum(bool(words.meanings(cell)) for cell in names)
    alike = len(set(filled)) / len(filled)
    near = 1.0 / (1.0 + 0.3 * max(0, first - at - 2))
    return (len(names) + 2.0 * known) * alike * near * min(under, 20) / 20


def _finish(grid: Grid, at: int) -> SampleTable:
    header = list(grid.rows[at])
    while header and not header[-1] and grid.format == "csv":
        header.pop()
    units: list[str | None] = [words.unit_in_header(name)[0] for name in header]
    below = at + 1
    units_rows = 0
    while below < len(grid.rows) and _is_units_row(grid.rows[below]):
        for place, cell in enumerate(grid.rows[below][: len(units)]):
            units[place] = words.unit_of(cell) or units[place]
        units_rows, below = units_rows + 1, below + 1
    table = SampleTable(grid, header, at, units_rows, units, [])
    for n in range(below, len(grid.rows)):
        row = grid.rows[n]
        if not any(row):
            table.blank.append(n)
        elif row[: len(header)] == header:
            table.repeated.append(n)
        elif _is_units_row(row):
            continue
        elif _is_label_line(row, header):
            table.labels += _labels(row, n)
        else:
            table.rows.append(n)
    for n in range(at):
        table.labels += _labels(grid.rows[n], n)
    if not table.rows:
        raise NoTableError(f"{grid.path.name}: there are no rows under the header: export a night with shots in it")
    return table


def _is_units_row(row: list[str]) -> bool:
    """Return whether a row holds units: most of its cells do, and none a number."""
    filled = [cell for cell in row if cell and not is_nothing(cell)]
    said = sum(words.unit_of(cell) is not None for cell in filled)
    bracketed = sum(bool(re.fullmatch(r"[\(\[].*[\)\]]", cell)) for cell in filled)
    if any(looks_like_value(cell) for cell in filled):
        return False
    return len(filled) >= 2 and ((said >= 2 and said >= 0.4 * len(filled)) or (bracketed == len(filled) and said >= 1))


def _is_label_line(row: list[str], header: list[str]) -> bool:
    """Return whether a row says something outside the table: a title, a label and its value, one cell of text."""
    filled = [cell for cell in row if cell]
    if len(filled) > 3 or len(filled) * 3 > len(header) + 2:
        return False
    if len(filled) == 1:
        return as_number(filled[0]) is None
    return filled[0] == row[0] and (filled[0].endswith(":") or len(header) >= 6) and as_number(filled[0]) is None


def _labels(row: list[str], at: int) -> list[tuple[str, str, int]]:
    """Return the labels of a line and their values: "Player: X" in one cell, or label and value in two."""
    filled = [cell for cell in row if cell]
    found: list[tuple[str, str, int]] = []
    waiting = ""
    for cell in filled:
        head, mark, rest = cell.partition(":")
        head = head.strip(" #;%*-")
        if waiting:
            found.append((waiting, cell, at))
            waiting = ""
        elif mark and rest.strip() and not head.isdigit() and 0 < len(head) <= 30 and not rest.startswith("//"):
            found.append((head, rest.strip(), at))
        elif (mark and not rest.strip()) or (len(filled) >= 2 and cell is filled[0]):
            waiting = head
        elif mark == "" and "=" in cell:
            name, _, value = cell.partition("=")
            found.append((name.strip(" #"), value.strip(), at))
    if len(filled) == 1 and not found:
        for pattern in (r"^#?\s*([^\W\d][\w ]{1,24}?)\s*[=]\s*(.+)$", r"^#\s*([^\W\d]\w{1,24})\s+(.+)$"):
            if match := re.match(pattern, filled[0]):
                found.append((match[1].strip(), match[2].strip(), at))
                break
    return found
