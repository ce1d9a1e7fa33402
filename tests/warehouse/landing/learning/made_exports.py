"""Makes of export for tests, all invented: each writes shots as files, and says what the files then hold.

A make is columns (metric, header, unit, decimals, sign), and how times, clubs, people, bays and lines are written. What
`write` returns is what stands in the files, computed from the written text, in canonical units.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import polars as pl

PER_UNIT = {"m/s": 1.0, "km/h": 1000 / 3600, "mph": 0.44704, "ft/s": 0.3048, "m": 1.0, "yd": 0.9144, "ft": 0.3048,
            "in": 25.4, "cm": 10.0, "mm": 1.0, "deg": 1.0, "rpm": 1.0}  # fmt: skip
"""One unit in m/s, m, deg, rpm; where the face was struck in mm. Written down here anew: 1 mile is 1609.344 m."""


@dataclass(frozen=True)
class Number:
    """One column: what it gives, its header, unit, decimals; `sign` -1 where plus is left, down, heel or low."""

    metric: str
    header: str
    unit: str
    decimals: int = 1
    sign: int = 1
    letters: tuple[str, str] = ("", "")
    after: str = ""


@dataclass(frozen=True)
class Make:
    """How one invented device writes its shots; `lay` puts rows of text into files and returns their names."""

    name: str
    numbers: tuple[Number, ...]
    time: Callable[[dt.datetime], dict[str, str]]
    club_header: str
    clubs: Mapping[str, str]
    lay: Callable[[Path, list[dict[str, str]], pl.DataFrame], list[Path]]
    person_header: str = ""
    person: Callable[[str], str] = str
    decimal: str = "."
    thousands: str = ""
    nothing: str = ""
    more: Mapping[str, Callable[[int, dict[str, float]], str]] = field(default_factory=dict)
    zone: str = "site"


def written(make: Make, shots: pl.DataFrame, folder: Path) -> tuple[list[Path], pl.DataFrame]:
    """Write shots as a make does; return the files, and what stands in them in canonical units."""
    texts: list[dict[str, str]] = []
    truth: list[dict[str, object]] = []
    for n, row in enumerate(shots.iter_rows(named=True)):
        said: dict[str, str] = dict(make.time(row["struck_at"]))
        if make.person_header:
            said[make.person_header] = make.person(row["student_id"])
        said[make.club_header] = make.clubs[row["club"]]
        true: dict[str, object] = {"struck_at": row["struck_at"], "student_id": row["student_id"], "club": row["club"]}
        for number in make.numbers:
            said[number.header], true[number.metric] = _number(make, number, row[number.metric], n)
        for header, text in make.more.items():
            said[header] = text(n, row)
        texts.append(said)
        truth.append(true)
    return make.lay(folder, texts, shots), pl.DataFrame(truth, infer_schema_length=None)


def _number(make: Make, number: Number, value: float | None, n: int) -> tuple[str, float | None]:
    """Return one value as text, and what that text says."""
    absent = value is None or (
        make.nothing and n % 23 == 11 and number.metric in ("impact_toe", "spin_axis", "club_speed")
    )
    if absent:
        return make.nothing, None
    scaled = round(number.sign * value / PER_UNIT[number.unit], number.decimals)
    shown = abs(scaled) if number.letters[0] else scaled
    text = f"{shown:,.{number.decimals}f}" if make.thousands else f"{shown:.{number.decimals}f}"
    if make.thousands or make.decimal != ".":
        text = text.replace(",", "\0").replace(".", make.decimal).replace("\0", make.thousands)
    text += number.after
    if number.letters[0] and scaled != 0:
        text = f"{text} {number.letters[0] if scaled > 0 else number.letters[1]}"
    return text, number.sign * scaled * PER_UNIT[number.unit]


def lines(path: Path, rows: list[str], encoding: str = "utf-8", ends: str = "\n") -> Path:
    """Write lines of text."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes((ends.join(rows) + ends).encode(encoding))
    return path


def table(texts: list[dict[str, str]], delimiter: str, header: list[str] | None = None) -> list[str]:
    """Return header and rows as lines; a field that holds the delimiter is quoted."""
    names = header or list(texts[0])

    def cell(text: str) -> str:
        quoted = text.replace('"', '""')
        return f'"{quoted}"' if delimiter in text or '"' in text else text

    return [delimiter.join(names), *(delimiter.join(cell(row.get(name, "")) for name in names) for row in texts)]


def workbook(path: Path, sheets: Mapping[str, list[list[object]]]) -> Path:
    """Write a workbook of sheets of cells."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    path.parent.mkdir(parents=True, exist_ok=True)
    book.save(path)
    return path
