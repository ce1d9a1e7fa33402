"""A sample export as grids of text, one a sheet or one for the file; encoding, delimiter and JSON paths are found.

Not here: where in a grid the table stands (tables.py).
"""

from __future__ import annotations

import codecs
import csv
import datetime as dt
import gzip
import json
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from warehouse.landing.learning import words
from warehouse.landing.learning.cells import looks_like_value

MOST_BYTES, MOST_ROWS = 8 << 20, 4000
"""How much of a file is looked at: what a profile says is settled long before."""
DELIMITERS = (",", ";", "\t", "|", "^", "~")
WORKBOOKS = (".xlsx", ".xlsm", ".xls", ".xlsb", ".ods")
ENCODINGS = ("cp1252", "cp1250", "mac_roman", "cp850")


class NoTableError(ValueError):
    """A file in which no table of shots was found; the message says why and what would help."""


@dataclass
class Grid:
    """Rows of cells as text.

    Attributes
    ----------
    format
        What a profile calls it: csv, workbook, json, jsonl or parquet.
    rows
        Cells; of json and parquet the first row holds the paths or names.
    lines
        Physical line of each row (from 1); of sheets the row's number.
    sheet
        The sheet's name; None elsewhere.
    said
        Keys of the profile's [file] part that were found: encoding, delimiter, rows_at.
    outside
        JSON: values that stand above the shots, by absolute path, and how many different ones there are.
    """

    path: Path
    format: str
    rows: list[list[str]]
    lines: list[int]
    sheet: str | None = None
    said: dict[str, str] = field(default_factory=dict)
    outside: dict[str, list[str]] = field(default_factory=dict)
    truncated: bool = False


def read_grids(path: Path, strict: bool = True) -> list[Grid]:
    """Return a file's grids; unless `strict`, lines of text that hold no numbers too.

    Raises
    ------
    NoTableError
        The file cannot be read or holds nothing.
    """
    suffix = path.suffix.lower()
    if suffix == ".parquet":
        return [_parquet(path)]
    if suffix in WORKBOOKS:
        return _workbook(path)
    data, truncated = _bytes(path)
    if not data.strip(b"\x00 \r\n\t\xef\xbb\xbf\xff\xfe"):
        raise NoTableError(f"{path.name} is empty: export it again")
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise NoTableError(f"{path.name} is a workbook by its content: name it .xlsx, .xls or .ods")
    text, encoding = _decoded(data, truncated)
    name = path.name.lower()
    is_json = ".json" in name or ".ndjson" in name or text.lstrip()[:1] in ("{", "[")
    if is_json and (grid := _json(path, text, encoding)) is not None:
        return [grid]
    return [_delimited(path, text, encoding, truncated, strict)]


def _bytes(path: Path) -> tuple[bytes, bool]:
    try:
        with gzip.open(path) if path.suffix.lower() == ".gz" else path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (EOFError, zlib.error, gzip.BadGzipFile) as fault:
        raise NoTableError(f"{path.name}: its compression is broken ({fault}): copy it again") from None
    except OSError as fault:
        raise NoTableError(f"{path.name} cannot be read ({fault.strerror or fault})") from None
    if len(data) <= MOST_BYTES:
        return data, False
    return data[: data.rfind(b"\n", 0, MOST_BYTES) + 1] or data[:MOST_BYTES], True


def _decoded(data: bytes, truncated: bool) -> tuple[str, str]:
    """Return (text, encoding): by its mark, as UTF-8, as UTF-16, else the code page in which its words are known."""
    for mark, name in ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16")):
        if data.startswith(mark):
            return data.decode("utf-8-sig" if name == "utf-8" else name, errors="replace"), name
    head = data[:4000]
    if head.count(0) > len(head) // 4:
        name = "utf-16-le" if head[1::2].count(0) > head[0::2].count(0) else "utf-16-be"
        return data.decode(name, errors="replace"), name
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        pass
    texts = {name: data.decode(name, errors="replace") for name in ENCODINGS}

    def known(name: str) -> tuple[float, int]:
        head = texts[name][:20000]
        strange = sum(ord(letter) > 127 and not letter.isalpha() and letter not in "°º–—’“”€±²" for letter in head)
        return sum(bool(words.concepts(word)) for word in set(words.tokens(head))) - 2 * strange, -ENCODINGS.index(name)

    best = max(ENCODINGS, key=known)
    return texts[best], best


def _delimited(path: Path, text: str, encoding: str, truncated: bool, strict: bool) -> Grid:
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    if text.startswith("sep=") and len(text.split("\n", 1)[0]) == 5:
        first = text[4]
        candidates: tuple[str, ...] = (first,)
    else:
        candidates = DELIMITERS
    head = "\n".join(text.split("\n")[:400])
    best = max(candidates, key=lambda mark: _table_likeness(_parsed(head, mark)))
    rows = _parsed(text, best)
    if not strict and _table_likeness(rows[:400]) <= 0:
        best = max(candidates, key=lambda mark: sum(line.count(mark) for line in text.split("\n")[:40]))
        rows = _parsed(text, best)
    elif _table_likeness(rows[:400]) <= 0:
        raise NoTableError(
            f"{path.name}: no lines of values under a header were found, with comma, semicolon, tab or | between them: "
            "is it the export of single shots, with a header line?"
        )
    return Grid(
        path,
        "csv",
        [row for _, row in rows],
        [line for line, _ in rows],
        None,
        {"encoding": encoding, "delimiter": best},
        truncated=truncated,
    )


def _parsed(text: str, delimiter: str) -> list[tuple[int, list[str]]]:
    """Return (line, cells) of every line; quotes by RFC 4180."""
    reader = csv.reader(text.split("\n"), delimiter=delimiter)
    rows: list[tuple[int, list[str]]] = []
    while len(rows) < MOST_ROWS:
        before = reader.line_num
        try:
            row = next(reader)
        except StopIteration:
            break
        except csv.Error:
            continue
        rows.append((before + 1, [cell.strip() for cell in row]))
    while rows and not any(rows[-1][1]):
        rows.pop()
    return rows


def _table_likeness(rows: list[tuple[int, list[str]]]) -> float:
    """Return how much lines look like rows of one table: many of one width, with cells that are values."""
    widths: dict[int, int] = {}
    values: dict[int, int] = {}
    for _, row in rows:
        sound = sum(looks_like_value(cell) for cell in row)
        if len(row) >= 3 and sound >= 2:
            widths[len(row)] = widths.get(len(row), 0) + 1
            values[len(row)] = values.get(len(row), 0) + sound
    if not widths:
        return 0.0
    return max(count * (values[width] / count) for width, count in widths.items()) ** 1.0


def _workbook(path: Path) -> list[Grid]:
    from python_calamine import CalamineWorkbook

    try:
        book = CalamineWorkbook.from_path(str(path))
        sheets = {name: book.get_sheet_by_name(name).to_python(skip_empty_area=False) for name in book.sheet_names}
    except Exception as fault:
        raise NoTableError(f"{path.name} is no workbook that can be read ({str(fault).splitlines()[0]})") from None
    grids = []
    for name, cells in sheets.items():
        rows = [[_text(cell) for cell in row] for row in cells[:MOST_ROWS]]
        if any(any(row) for row in rows):
            grids.append(Grid(path, "workbook", rows, list(range(1, len(rows) + 1)), name))
    if not grids:
        raise NoTableError(f"{path.name}: every sheet is empty")
    return grids


def _text(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return str(cell).lower()
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    if isinstance(cell, dt.datetime):
        return cell.isoformat(sep=" ")
    if isinstance(cell, dt.date | dt.time):
        return cell.isoformat()
    return " ".join(str(cell).split()) if isinstance(cell, str) else str(cell)


def _parquet(path: Path) -> Grid:
    import polars as pl

    try:
        frame = pl.scan_parquet(path).head(MOST_ROWS).collect()
    except Exception as fault:
        raise NoTableError(f"{path.name} is no whole parquet file ({str(fault).splitlines()[0]})") from None
    rows = [list(frame.columns), *([_text(cell) for cell in row] for row in frame.rows())]
    return Grid(path, "parquet", rows, list(range(len(rows))))


def _json(path: Path, text: str, encoding: str) -> Grid | None:
    """Return the shots of a JSON document or of JSON lines; None where the text is neither."""
    try:
        documents, kind = [json.loads(text)], "json"
    except ValueError:
        documents, kind = [], "jsonl"
        for line in text.splitlines():
            try:
                documents.append(json.loads(line))
            except ValueError:
                continue
        if not documents or not all(isinstance(document, dict) for document in documents):
            return None
        if len(documents) < 2 and ".jsonl" not in path.name.lower():
            return None
    found: dict[str, list[tuple[dict[str, str], dict[str, Any]]]] = {}
    for document in documents:
        for where, around, shot in _records(document, "", {}):
            found.setdefault(where, []).append((around, shot))
    flat = {where: [(around, _flat(shot)) for around, shot in shots] for where, shots in found.items()}
    if not flat:
        raise NoTableError(f"{path.name}: holds no list of objects with several values each")
    where = max(flat, key=lambda place: sum(sum(map(looks_like_value, shot.values())) for _, shot in flat[place]))
    shots = flat[where][:MOST_ROWS]
    names = list(dict.fromkeys(name for _, shot in shots for name in shot))
    outside: dict[str, list[str]] = {}
    for around, _ in shots:
        for name, value in around.items():
            outside.setdefault(name, []).append(value)
    rows = [names, *([shot.get(name, "") for name in names] for _, shot in shots)]
    said = {"encoding": encoding} | ({} if where == "." and kind == "jsonl" else {"rows_at": where})
    return Grid(path, kind, rows, list(range(len(rows))), None, said, outside)


def _records(value: Any, where: str, around: dict[str, str]) -> Iterator[tuple[str, dict[str, str], dict[str, Any]]]:
    """Yield (path of the list, what stands above by absolute path, object) for every object in it."""
    if isinstance(value, list):
        for item in value:
            yield from _records(item, f"{where}[]", around)
        return
    if not isinstance(value, dict):
        return
    said = {f"{where}.{name}".lstrip("."): text for name, text in _flat(value).items()}
    if sum(map(looks_like_value, said.values())) >= 2:
        yield where or ".", around, value
    inner = {**around, **said}
    for name, part in value.items():
        if isinstance(part, list | dict):
            yield from _records(part, f"{where}.{name}".lstrip("."), inner)


def _flat(value: dict[str, Any], before: str = "") -> dict[str, str]:
    """Return an object's plain values by dotted path; lists are left out."""
    said: dict[str, str] = {}
    for name, part in value.items():
        if isinstance(part, dict):
            said |= _flat(part, f"{before}{name}.")
        elif not isinstance(part, list):
            said[f"{before}{name}"] = _text(part)
    return said
