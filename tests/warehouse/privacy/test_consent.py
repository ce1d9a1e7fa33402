"""The check of consent finds a name in every declared column that can hold one, and nothing where all is masked."""

from __future__ import annotations

import duckdb
import pytest

from warehouse.build.run import prepare
from warehouse.connection import private
from warehouse.home import Home
from warehouse.privacy import consent
from warehouse.schema import raw
from warehouse.schema.declaration import KEY, NAME, PERSON, WORDS
from warehouse.schema.registry import TABLES
from warehouse.settings.settings import Settings

HIDDEN, SHOWN = "Mia Lindqvist", "Ravi Sandhu"
COLUMNS = [
    (table.name, column.name, column.personal)
    for table in TABLES.values()
    for column in table.columns
    if column.personal
]


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory):
    """A private database with its tables and two students: one did not agree to be shown."""
    with private(Home(tmp_path_factory.mktemp("consent") / "home")) as connection:
        for table in raw.TABLES:
            connection.execute(table.ddl())
        prepare(connection, Settings())
        for who, name, agreed in (("S1", HIDDEN, "no"), ("S2", SHOWN, "yes")):
            row = [who, name, agreed]
            connection.execute("insert into raw.student by name select ? as student_id, ? as name, ? as consent", row)
        yield connection


@pytest.fixture
def emptied(database: duckdb.DuckDBPyConnection):
    """The same; what a test puts in is taken out after it."""
    database.execute("begin")
    yield database
    database.execute("rollback")


def test_a_hidden_name_is_found_in_every_column_in_which_it_could_be_published(
    emptied: duckdb.DuckDBPyConnection,
) -> None:
    assert consent.names_held(emptied) == []
    for table, column, _ in COLUMNS:
        emptied.execute(f"insert into {table} by name select 'x LINDQVIST mia 1' as {column}")
    found = consent.names_held(emptied)
    assert sorted((one.table, one.column, one.kind) for one in found) == sorted(COLUMNS)
    assert {one.texts for one in found} == {1}
    assert not any("lindqvist" in str(one).casefold() for one in found)


def test_somebody_who_agreed_may_have_an_id_like_the_name_but_stands_in_no_words(
    emptied: duckdb.DuckDBPyConnection,
) -> None:
    emptied.execute("insert into core.session by name select 'ravi.sandhu' as student_id")
    assert consent.names_held(emptied) == []
    emptied.execute("insert into ops.rejected_row by name select 'Ravi Sandhu' as value")
    assert [(found.table, found.column) for found in consent.names_held(emptied)] == [("ops.rejected_row", "value")]


def test_every_kind_of_what_is_personal_is_looked_for() -> None:
    assert {kind for _, _, kind in COLUMNS} == {KEY, NAME, PERSON, WORDS}
