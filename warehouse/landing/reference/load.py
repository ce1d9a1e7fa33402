"""The academy's own tables into raw: who, what and when, each row typed, checked and pointing at things that exist.

All are replaced together when any file changed; a fault that makes a table unusable leaves what was there and is
raised with all its fellows. Not here: how a file is read (reference_file.py), the rules (rules.py).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path
from typing import Any

import duckdb

from warehouse.landing.path_safety import misplaced
from warehouse.landing.reference import read_csv, rules
from warehouse.landing.reference.read_csv import Content, Fault, file_name
from warehouse.privacy import masking, values
from warehouse.privacy.names import KnownNames
from warehouse.privacy.people import TABLES as PEOPLE
from warehouse.privacy.people import people_of
from warehouse.schema.declaration import Table
from warehouse.schema.raw import REFERENCE_FILE, REFERENCE_TABLES

NOTHING = "no file"
SAID_SINGLY = 3
"""Rows at fault alike that are each told by their line; more are told in one."""


class ReferenceTablesError(ValueError):
    """Reference tables that cannot be used; `faults` holds every fault, and the message says them all."""

    def __init__(self, faults: list[Fault]) -> None:
        super().__init__("\n".join(str(fault) for fault in faults))
        self.faults = faults


@dataclass
class ReferenceSummary:
    """What the reference tables hold now.

    Attributes
    ----------
    rows
        File name -> rows taken in.
    changed
        Names of the files that differ from when they were last read; empty: nothing was written.
    warnings
        Rows and columns kept out, in words; said again every time, changed or not.
    """

    rows: dict[str, int] = field(default_factory=dict)
    changed: tuple[str, ...] = ()
    warnings: list[str] = field(default_factory=list)


def create_tables(con: duckdb.DuckDBPyConnection) -> None:
    """Create raw's reference tables where they are not there yet."""
    for table in (*REFERENCE_TABLES, REFERENCE_FILE):
        con.execute(table.ddl())


def load(con: duckdb.DuckDBPyConnection, landing: Path) -> ReferenceSummary:
    """Bring raw's reference tables up to date with landing/academy.

    Parameters
    ----------
    con
        Connection in which `raw` exists; its reference tables are created if need be.
    landing
        The landing folder.

    Raises
    ------
    ReferenceTablesError
        A required table or column is missing, a file cannot be read, or no row of sites, bays or students can be used,
        so that nothing could be attributed. Nothing is changed then. A row at fault is kept out with a warning.
    """
    create_tables(con)
    hashes = {file_name(table): _hash(landing / "academy" / file_name(table)) for table in REFERENCE_TABLES}
    before = {row[0]: row[1:] for row in con.execute("from raw.reference_file").fetchall()}
    changed = tuple(name for name, digest in hashes.items() if before.get(name, (None,))[0] != digest)
    if not changed:
        warnings = [line for _, _, said, _ in before.values() for line in said.splitlines()]
        return ReferenceSummary({name: before[name][1] for name in hashes}, (), warnings)
    contents = read_all(landing)
    people = people_of(landing)
    for table in REFERENCE_TABLES:
        masking.reference_rows(contents[table.name].rows, table, people, masking.key_of(con))
    _write(con, contents, hashes)
    return ReferenceSummary(
        {file_name(table): len(contents[table.name].rows) for table in REFERENCE_TABLES},
        changed,
        [warning for content in contents.values() for warning in content.warnings],
    )


def _hash(path: Path) -> str:
    """Return a hash of a file and of the declarations by which it is read."""
    if wrong := misplaced(path, path.parent.parent):
        return wrong
    try:
        said = path.read_bytes()
    except FileNotFoundError:
        return NOTHING
    except OSError as fault:
        return str(fault)
    return sha256(said + repr(REFERENCE_TABLES).encode()).hexdigest()


def read_all(landing: Path) -> dict[str, Content]:
    """Return every reference table's rows that can be used, by the table's name; raise where a table cannot be.

    Raises
    ------
    ReferenceTablesError
        See `load`.
    """
    contents: dict[str, Content] = {}
    known: dict[str, frozenset[str]] = {}
    fatal: list[Fault] = []
    names = people_of(landing).names
    for table in REFERENCE_TABLES:
        short, name = table.name.split(".")[1], file_name(table)
        content = read_csv.read(landing / "academy" / name, table)
        _check_rows(short, name, table, content, known)
        fatal += content.fatal
        if short in rules.NEEDED and not content.rows:
            fatal += content.spoiled
        content.warnings += _kept_out([_without_names(fault, names) for fault in content.spoiled])
        contents[table.name] = content
        if len(table.key) == 1:
            known[short] = frozenset(row[table.key[0]] for row in content.rows)
    if fatal:
        raise ReferenceTablesError([_without_names(fault, names) for fault in fatal])
    for content in contents.values():
        content.warnings = [values.shown_message(warning, names, b"") for warning in content.warnings]
    return contents


def _kept_out(spoiled: list[Fault]) -> list[str]:
    """Say which rows are kept out and why; many at fault alike (a bay that is in no table) in one line."""
    alike: dict[tuple[Any, ...], list[Fault]] = {}
    for fault in spoiled:
        alike.setdefault((fault.column, fault.value, fault.problem), []).append(fault)
    said = []
    for faults in alike.values():
        if len(faults) > SAID_SINGLY:
            said.append(f"{faults[0]}. {len(faults)} rows like this are kept out")
        else:
            said += [f"{fault}. The row is kept out" for fault in faults]
    return said


def _without_names(fault: Fault, names: KnownNames) -> Fault:
    """Return a fault that names nobody: in tables of people a cell may be a name that its line's fault hides."""
    value = fault.value
    if value and (names.holds_part(value) or (fault.file in PEOPLE and values.may_name_somebody(value, names))):
        value = values.WITHHELD
    return replace(fault, value=value, problem=names.mask(fault.problem))


def _check_rows(short: str, name: str, table: Table, content: Content, known: dict[str, frozenset[str]]) -> None:
    """Move rows that break a rule from `rows` to `spoiled`."""
    kept, first_line = [], dict[tuple[Any, ...], int]()
    rule = rules.RULES.get(short)
    for row in content.rows:
        broken = rules.broken_reference(short, row, known) or (rule(row) if rule else None)
        key = rules.key_of(short, row, table.key)
        if broken is None and key in first_line:
            broken = rules.Broken(table.key[0], f"stands on line {first_line[key]} already", "remove one of the rows")
        if broken is None:
            first_line[key] = row["line"]
            kept.append(row)
        else:
            value = None if row[broken.column] is None else str(row[broken.column])
            content.spoiled.append(Fault(name, row["line"], broken.column, value, broken.problem, broken.remedy))
    content.rows = kept


def _write(con: duckdb.DuckDBPyConnection, contents: dict[str, Content], hashes: dict[str, str]) -> None:
    con.execute("begin transaction")
    try:
        con.execute("delete from raw.reference_file")
        for table in REFERENCE_TABLES:
            content = contents[table.name]
            con.execute(f"delete from {table.name}")
            taken = ", ".join(f"unnest(${at})::{column.type}" for at, column in enumerate(table.columns, start=1))
            columns = [[row[column.name] for row in content.rows] for column in table.columns]
            con.execute(f"insert into {table.name} select {taken}", columns)
            con.execute(
                "insert into raw.reference_file values ($1, $2, $3, $4, $5)",
                [
                    file_name(table),
                    hashes[file_name(table)],
                    len(content.rows),
                    "\n".join(content.warnings),
                    dt.datetime.now(dt.UTC).replace(tzinfo=None),
                ],
            )
    except BaseException:
        con.execute("rollback")
        raise
    con.execute("commit")
