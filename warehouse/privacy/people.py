"""Who is known by name in a home: students and coaches of the landing folder's tables, as they lie there now.

The tables are read leniently, since a table that the night refuses must not let names through in what is said of it.
Not here: finding names in texts (names.py).
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import duckdb

from warehouse.home import Home
from warehouse.privacy.names import KnownNames

TABLES = ("students.csv", "coaches.csv")
DELIMITERS = (",", ";", "\t", "|")


@dataclass(frozen=True)
class Person:
    """One person of a table: name, id, and whether the name may be shown (a coach's may not: nobody was asked)."""

    name: str
    id: str
    may_be_shown: bool


@dataclass(frozen=True)
class People:
    """Everybody known by name.

    Attributes
    ----------
    names
        Of everybody: in words that the program writes no name stands, whoever agreed to be shown.
    hidden
        Those that may be shown nowhere. Who has the same name as somebody who agreed is not among them.
    """

    names: KnownNames
    hidden: KnownNames


def people_of(home: Home | Path | None, connection: duckdb.DuckDBPyConnection | None = None) -> People:
    """Return everybody known by name.

    Parameters
    ----------
    home
        The home, or its landing folder.
    connection
        Where given, those count too whom its raw tables hold as they were last read.
    """
    landing = home.landing if isinstance(home, Home) else home
    files = [landing / "academy" / name for name in TABLES] if landing else []
    states = tuple((str(path), stat.st_mtime_ns, stat.st_size) for path in files if (stat := _stat(path)))
    return _people(states, frozenset(_loaded(connection)) if connection else frozenset())


def _stat(path: Path):
    try:
        return path.stat()
    except OSError:
        return None


@lru_cache(maxsize=16)
def _people(states: tuple[tuple[str, int, int], ...], loaded: frozenset[Person]) -> People:
    found = set(loaded)
    for path, _, _ in states:
        found.update(_landed(Path(path)))
    shown = {person.name.casefold() for person in found if person.may_be_shown}
    hidden = (person.name for person in found if person.name.casefold() not in shown)
    return People(KnownNames(person.name for person in found), KnownNames(hidden))


def _loaded(connection: duckdb.DuckDBPyConnection) -> Iterator[Person]:
    try:
        rows = connection.execute(
            "select name, student_id, consent = 'yes' from raw.student union all select name, coach_id, false "
            "from raw.coach"
        ).fetchall()
    except duckdb.CatalogException:
        return
    yield from (Person(*row) for row in rows if row[0])


def _landed(path: Path) -> Iterator[Person]:
    """Yield the people of a table, whatever its encoding and delimiter."""
    try:
        said = path.read_bytes()
    except OSError:
        return
    lines = _text(said).splitlines(keepends=True)
    delimiter = max(DELIMITERS, key=lines[0].count) if lines else ","
    reader = csv.reader(io.StringIO("".join(lines), newline=""), delimiter=delimiter)
    try:
        header = [cell.strip().casefold() for cell in next(reader, [])]
        if "name" not in header:
            return
        for cells in reader:
            yield from _of_row(header, [cell.strip() for cell in cells])
    except csv.Error:
        return


def _of_row(header: list[str], cells: list[str]) -> Iterator[Person]:
    row = dict(zip(header, cells, strict=False))
    shown = row.get("consent") == "yes"
    who = next((row[column] for column in ("student_id", "coach_id") if row.get(column)), "")
    if name := row.get("name"):
        yield Person(name, who, shown)
    at = header.index("name")
    if len(cells) > len(header) and cells[at]:
        # A comma in a name that is not quoted parts it in two.
        yield Person(f"{cells[at]} {cells[at + 1]}", who, False)


def _text(said: bytes) -> str:
    if said.startswith((b"\xff\xfe", b"\xfe\xff")):
        return said.decode("utf-16", "replace")
    try:
        return said.decode("utf-8-sig")
    except UnicodeDecodeError:
        return said.decode("cp1252", "replace")
