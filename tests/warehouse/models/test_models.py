"""SQL models as data: a folder a case, rows in as <schema>.<table>.csv, rows expected as expected.csv.

A folder is <schema>/<table>/<case>. A file that a case lacks is looked for beside the table's cases, then beside this
module (the academy that most cases share). Models that the table reads and that no file gives are run too. A column
that a file lacks is null, or follows from the others (FOLLOWS). expected.csv is compared by its own columns, all rows,
in any order.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import duckdb
import pytest

from warehouse.build import run
from warehouse.build.model import GIVEN, Model, models
from warehouse.schema import entered, raw
from warehouse.schema.registry import TABLES, macros
from warehouse.settings import settings

FOLDER = Path(__file__).parent
TODAY = "2026-03-02"
CASES = sorted(path.parent for path in FOLDER.glob("*/*/*/expected.csv"))
DECLARED = {table.name: table for table in (*raw.TABLES, *entered.TABLES, *TABLES.values())}
FOLLOWS = {
    "raw.shot": {
        "night": "struck_at_local::date",
        "path": "struck_at_local::date || '/' || bay_id || '.csv'",
        "struck_at": "struck_at_local::timestamp",
    },
    "core.block": {"night": "null"},
}
"""Table -> column -> what it is where a file does not say."""


@pytest.fixture(scope="module")
def database():
    """An empty warehouse in memory."""
    with duckdb.connect() as connection:
        connection.execute("set timezone = 'UTC'")
        for schema in ("raw", "stage", "core", "mart", "ops"):
            connection.execute(f"create schema {schema}")
        for table in (*raw.TABLES, *entered.TABLES):
            connection.execute(table.ddl())
        for macro in macros(temporary=True):
            connection.execute(macro)
        run.prepare(connection, settings.Settings())
        yield connection


@pytest.fixture
def warehouse(database):
    """The same, emptied again after the test."""
    database.execute("begin")
    yield database
    database.execute("rollback")


def file_of(case: Path, name: str) -> Path | None:
    """Return the file that gives a table's rows to a case."""
    for folder in (case, case.parent, FOLDER):
        if (folder / name).exists():
            return folder / name
    return None


def give(connection: duckdb.DuckDBPyConnection, table: str, path: Path) -> None:
    """Fill a table from a file."""
    rows = f"read_csv('{path}', header = true, all_varchar = true)"
    held = [column[0] for column in connection.execute(f"describe select * from {rows}").fetchall()]
    if table not in DECLARED:
        moments = {name: "TIMESTAMP" for name in held if name.endswith("_at")}
        typed = f"read_csv('{path}', header = true, types = {moments})" if moments else f"read_csv('{path}')"
        connection.execute(f"create or replace table {table} as select * from {typed}")
        return
    unknown = set(held) - set(DECLARED[table].column_names)
    assert not unknown, f"{path}: {table} has no {unknown}"
    follows = {name: made for name, made in FOLLOWS.get(table, {}).items() if name not in held}
    if "line" in DECLARED[table].column_names and "line" not in held:
        follows["line"] = "row_number() over () + 1"
    made = "".join(f", {expression} as {name}" for name, expression in follows.items())
    connection.execute(f"insert into {table} by name select *{made} from {rows}")


def make(connection: duckdb.DuckDBPyConnection, case: Path, name: str, chosen: settings.Settings) -> None:
    """Make a table, after those it reads; each from a file where the case has one."""
    wanted: dict[str, Path | Model | None] = {}

    def want(table: str) -> None:
        path = file_of(case, f"{table}.csv") if table != name else None
        if table in wanted or (path is None and table not in models()):
            return
        if path is None:
            for read in sorted(models()[table].reads):
                want(read)
        wanted[table] = path or models()[table]

    want(name)
    sources = [table for table, source in wanted.items() if isinstance(source, Path)]
    for table in sources:
        give(connection, table, wanted[table])
    of_nights = [table for table in sources if table in DECLARED and DECLARED[table].night]
    if "stage.night" not in sources:
        nights = " union ".join(f"select night from {table} where night is not null" for table in of_nights)
        connection.execute(f"create or replace table stage.night as {nights or 'select null::date as night'}")
    for source in wanted.values():
        if isinstance(source, Model):
            run.run_model(connection, source, chosen)


def plain(value: Any) -> Any:
    """Return a float to nine digits, so that rows can be sorted and compared."""
    return float(f"{value:.9g}") if isinstance(value, float) and math.isfinite(value) else value


def rows_of(connection: duckdb.DuckDBPyConnection, sql: str) -> list[tuple]:
    """Return rows in one order."""
    rows = [tuple(plain(value) for value in row) for row in connection.execute(sql).fetchall()]
    return sorted(rows, key=repr)


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case.relative_to(FOLDER)))
def test_the_rows_given_make_the_rows_expected(warehouse: duckdb.DuckDBPyConnection, case: Path) -> None:
    name = f"{case.parent.parent.name}.{case.parent.name}"
    chosen = settings.load(case)
    run.give(warehouse, chosen)
    warehouse.execute(f"set variable today = date '{TODAY}'")
    make(warehouse, case, name, chosen)
    types = dict(warehouse.execute(f"select column_name, column_type from (describe {name})").fetchall())
    rows = f"read_csv('{case / 'expected.csv'}', header = true, all_varchar = true)"
    columns = [column[0] for column in warehouse.execute(f"describe select * from {rows}").fetchall()]
    expected = ", ".join(f'"{column}"::{types[column]}' for column in columns)
    found = ", ".join(f'"{column}"' for column in columns)
    assert rows_of(warehouse, f"select {found} from {name}") == rows_of(warehouse, f"select {expected} from {rows}")


def test_every_file_of_a_case_is_a_table_that_its_model_reads() -> None:
    for case in CASES:
        behind, pending = set(GIVEN) | {"stage.night"}, [f"{case.parent.parent.name}.{case.parent.name}"]
        while pending:
            table = pending.pop()
            behind.add(table)
            pending += [read for read in (models()[table].reads if table in models() else ()) if read not in behind]
        for path in case.glob("*.*.csv"):
            assert path.stem in behind, f"{path.relative_to(FOLDER)} is never read"
