"""Every declared table and every table of the notebook, with a row about one person: none of their bytes stays.

A new column that holds text has to be about nobody (NOBODY below), or forgetting has to find the person in it.
"""

from __future__ import annotations

import uuid
from datetime import date, datetime
from pathlib import Path
from typing import Any

import duckdb
import pytest
import sqlalchemy

from warehouse.build import raw_retention
from warehouse.erasure.erase import forget, held_on
from warehouse.erasure.landing import mentions
from warehouse.erasure.rows import BY_ID_TOO, owned
from warehouse.home import Home
from warehouse.notebook.store import open_store
from warehouse.notebook.tables import TABLES as NOTEBOOK
from warehouse.schema import entered, raw
from warehouse.schema.declaration import KEY, WORDS, Column, Table
from warehouse.schema.declaration import NAME as DECLARED_NAME
from warehouse.schema.registry import TABLES

WHO, NAME = "QX77Z", "Quillon Varndike"
OWN_WORDS = {
    *("aim_metric", "metric", "measure", "label", "unit", "display_unit", "limits", "type", "description", "kind"),
    *("certainty_reason", "verdict_reason", "warning_reason", "not_estimable_reason", "set_aside_reason", "reason"),
    *("characteristic", "level", "finding", "comparator", "window_pair", "sentence", "step", "timing", "trial_id"),
    *("table_name", "column_name", "check_name", "content_hash", "settings_hash", "fingerprint", "timezone", "made_by"),
    *("meaning", "remedy", "name", "export_profile", "cause"),
}
"""Columns of text that the program fills with words, codes and hashes of its own."""
MADE = (*raw.TABLES, *entered.TABLES, raw_retention.TRIMMED_NIGHT, raw_retention.TRIMMED_STUDENT)
VALUES = {"DOUBLE": 1.0, "BIGINT": 1, "INTEGER": 1, "BOOLEAN": True, "DATE": date(2026, 1, 5),
          "TIMESTAMP": datetime(2026, 1, 5, 10)}  # fmt: skip


def value_of(table: Table, column: Column, who: str, name: str) -> Any:
    """Return a value that names the person wherever the column could hold one."""
    value: Any = f"{who} {who}, of whom {name} is the name"
    if column.type != "VARCHAR":
        value = VALUES[column.type]
    elif column.name.endswith("student_id") or column.name in {"id", "subject_id"}:
        value = who
    elif column.name in owned():
        value = f"{who}-{column.name.removeprefix('next_')}"
    elif column.name == "kind" and "subject_id" in table.column_names:
        value = "student slides"
    elif column.values:
        value = "student" if "student" in column.values else column.values[0]
    elif column.personal == KEY:
        value = f"x {name}" if name == NAME else "x"
    elif column.personal == WORDS and column.name not in BY_ID_TOO:
        value = f"of whom {name} is the name"
    elif not column.personal or (column.personal == DECLARED_NAME and "student_id" not in table.column_names):
        value = "x"  # a coach's own name is not the student's
    elif column.name == "name":
        value = name
    return value


def fill(path: Path, tables: list[Table], people: tuple[tuple[str, str], ...]) -> None:
    with duckdb.connect() as con:
        # As the pipeline has them: raw is a database of its own, the others are schemas of one.
        con.execute(f"attach '{path}' as {'raw' if path.stem == 'raw' else 'kept'}")
        con.execute(f"use {'raw' if path.stem == 'raw' else 'kept'}")
        for schema in {table.schema for table in tables} - {"raw"}:
            con.execute(f"create schema if not exists {schema}")
        for table in tables:
            con.execute(table.ddl())
            for who, name in people:
                row = [value_of(table, column, who, name) for column in table.columns]
                con.execute(f"insert into {table.name} values ({', '.join('?' * len(row))})", row)


def fill_notebook(url: str, people: tuple[tuple[str, str], ...]) -> None:
    store = open_store(url)
    kinds = {sqlalchemy.Integer: 1, sqlalchemy.Float: 1.0, sqlalchemy.Boolean: False,
             sqlalchemy.Date: date(2026, 1, 5), sqlalchemy.DateTime: datetime(2026, 1, 5, 10)}  # fmt: skip
    with store.engine.begin() as connection:
        for table in NOTEBOOK.values():
            for who, name in people:
                row: dict[str, Any] = {}
                for column in (column for column in table.columns if column.name != "number"):
                    if isinstance(column.type, sqlalchemy.Text):
                        row[column.name] = f"{who} is {name}"
                    elif isinstance(column.type, sqlalchemy.String):
                        named = column.name.endswith("student_id") or column.name in owned()
                        row[column.name] = who if named else str(uuid.uuid5(uuid.NAMESPACE_OID, f"{table.name} {who}"))
                    else:
                        row[column.name] = kinds[type(column.type)]
                connection.execute(table.insert().values(row | {"corrects": None}))
    store.close()


PEOPLE = ((WHO, NAME), ("QX770", "Somebody Else"))


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Every table with a row about each of two people."""
    made = Home(tmp_path / "home")
    made.private.mkdir(parents=True)
    made.published.mkdir()
    fill(made.private / "raw.duckdb", list(MADE), PEOPLE)
    for path in (made.private / "warehouse.duckdb", made.published / "2026-01-05_a.duckdb"):
        fill(path, list(TABLES.values()), PEOPLE)
    made.current.symlink_to("2026-01-05_a.duckdb")
    fill_notebook(made.notebook_url(""), PEOPLE)
    return made


def texts(path: Path) -> dict[str, list[str]]:
    """Return every text of a database file by table and column."""
    with duckdb.connect(str(path), read_only=True) as con:
        columns = con.execute(
            "select schema_name || '.' || table_name, column_name from duckdb_columns() "
            "where data_type = 'VARCHAR' and not internal"
        ).fetchall()
        return {
            f"{table}.{column}": [row[0] for row in con.execute(f'select "{column}" from {table}').fetchall()]
            for table, column in columns
        }


def test_no_declared_table_and_no_table_of_the_notebook_keeps_a_byte_of_the_person(home: Home) -> None:
    files = {path.name for path in home.path.rglob("*") if path.is_file() and WHO.encode() in path.read_bytes()}
    found = {path.name for path in mentions(home.path, WHO)}
    assert (
        found
        == {"raw.duckdb", "warehouse.duckdb", "2026-01-05_a.duckdb", "notebook.sqlite"}
        == files - {"current.duckdb"}
    )
    assert len(held_on(home, WHO)) > 40
    forget(home, WHO)
    for path in home.path.rglob("*.duckdb"):
        kept = {place for place, held in texts(path).items() if any(WHO in (text or "") for text in held)}
        assert kept == set(), path
    assert mentions(home.path, WHO, NAME) == []
    for path in (path for path in home.path.rglob("*") if path.is_file()):
        assert not any(word.encode() in path.read_bytes() for word in (WHO, NAME)), path
    assert held_on(home, WHO) == {}


def test_the_other_person_keeps_every_row(home: Home) -> None:
    forget(home, WHO)
    for path, tables in ((home.private / "raw.duckdb", MADE), (home.current.resolve(), tuple(TABLES.values()))):
        with duckdb.connect(str(path), read_only=True) as con:
            for table in tables:
                name = table.name.removeprefix("raw.")
                assert con.execute(f"select count(*) >= 1 from {name}").fetchone() == (True,), name
                if "student_id" in table.column_names:
                    assert con.execute(f"select student_id from {name}").fetchall() == [("QX770",)], name
    other = held_on(home, "QX770")
    assert {f"notebook: {name}" for name, table in NOTEBOOK.items() if "student_id" in table.c} <= set(other)


def test_a_column_of_text_is_declared_to_hold_a_person_or_is_the_programs_own_words() -> None:
    undeclared = {
        f"{table.name}.{column.name}"
        for table in (*TABLES.values(), *MADE)
        for column in table.columns
        if column.type == "VARCHAR" and not column.values and not column.personal and column.name not in OWN_WORDS
    }
    assert undeclared == set(), "say personal= in its declaration, or add it to OWN_WORDS"
