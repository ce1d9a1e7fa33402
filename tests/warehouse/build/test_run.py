"""Building: declared tables made once and again when their columns change, batches of bounded size."""

from __future__ import annotations

from datetime import date, timedelta

import duckdb
import pytest

from warehouse.build import run
from warehouse.schema import entered, raw
from warehouse.schema.declaration import Column, Table
from warehouse.schema.registry import TABLES
from warehouse.settings.settings import Settings

NIGHTS = [date(2026, 3, 1) + timedelta(days=day) for day in range(5)]


@pytest.fixture
def warehouse():
    """An empty warehouse in memory."""
    with duckdb.connect() as connection:
        for schema in ("raw", "stage", "core", "mart", "ops"):
            connection.execute(f"create schema {schema}")
        for table in (*raw.TABLES, *entered.TABLES):
            connection.execute(table.ddl())
        yield connection


def columns(connection, name: str) -> list[tuple]:
    """Return a table's columns, types and comments."""
    return connection.execute(
        "select column_name, data_type, comment from duckdb_columns() where schema_name || '.' || table_name = ?",
        [name],
    ).fetchall()


def declared(monkeypatch, *described: Column, night: str | None = "night") -> None:
    """Declare core.session with these columns only."""
    monkeypatch.setitem(TABLES, "core.session", Table("core.session", "one session", ("night",), described, night))


def test_every_declared_table_is_made_with_its_types_and_descriptions(warehouse) -> None:
    run.prepare(warehouse, Settings())
    for table in TABLES.values():
        held = columns(warehouse, table.name)
        assert [row[:2] for row in held] == [(column.name, column.type) for column in table.columns]
        assert all(row[2].startswith(column.description) for row, column in zip(held, table.columns, strict=True))


def test_the_database_takes_no_more_memory_than_the_settings_say(warehouse) -> None:
    run.prepare(warehouse, Settings(limits={"database_gigabytes": 0.5}))
    assert warehouse.execute("select current_setting('memory_limit')").fetchone() == ("476.8 MiB",)


def test_preparing_again_keeps_rows(warehouse) -> None:
    run.prepare(warehouse, Settings())
    warehouse.execute("insert into ops.night values ('2026-03-02', 'f', 1)")
    run.prepare(warehouse, Settings())
    assert warehouse.execute("select count(*) from ops.night").fetchone() == (1,)


def test_a_table_whose_columns_changed_is_made_anew_and_its_nights_are_built_again(warehouse, monkeypatch) -> None:
    run.prepare(warehouse, Settings())
    warehouse.execute("insert into ops.night values ('2026-03-02', 'f', 1)")
    declared(monkeypatch, Column("night", "DATE", "The night."), Column("shots", "DOUBLE", "Shots."))
    run.make_table(warehouse, "core.session")
    assert [row[:2] for row in columns(warehouse, "core.session")] == [("night", "DATE"), ("shots", "DOUBLE")]
    assert warehouse.execute("select count(*) from ops.night").fetchone() == (0,)


def test_a_description_that_changed_is_written_and_rows_stay(warehouse, monkeypatch) -> None:
    run.prepare(warehouse, Settings())
    declared(monkeypatch, Column("night", "DATE", "The night."))
    run.make_table(warehouse, "core.session")
    warehouse.execute("insert into core.session values ('2026-03-02')")
    warehouse.execute("insert into ops.night values ('2026-03-02', 'f', 1)")
    declared(monkeypatch, Column("night", "DATE", "The night's date, where it is.", "d"))
    run.make_table(warehouse, "core.session")
    assert columns(warehouse, "core.session") == [("night", "DATE", "The night's date, where it is. [d]")]
    counts = "select (select count(*) from core.session), (select count(*) from ops.night)"
    assert warehouse.execute(counts).fetchone() == (1, 1)


def test_batches_are_in_order_and_bounded_but_for_one_large_night(warehouse, monkeypatch) -> None:
    monkeypatch.setattr(run, "SHOTS_AT_ONCE", 10)
    for night, shots in zip(NIGHTS, (4, 6, 1, 30, 2), strict=True):
        warehouse.execute("insert into raw.shot (night) select $1 from range($2)", [night, shots])
    found = list(run.batches(warehouse, NIGHTS[::-1]))
    assert found == [NIGHTS[:2], NIGHTS[2:3], NIGHTS[3:4], NIGHTS[4:]]
    assert list(run.batches(warehouse, [])) == []


def test_a_model_that_fails_leaves_its_table_as_it_was(warehouse, monkeypatch) -> None:
    run.prepare(warehouse, Settings())
    warehouse.execute("insert into core.interruption by name select 'R' as student_id, date '2026-03-02' as on_date")
    warehouse.execute("drop table raw.event")
    with pytest.raises(duckdb.CatalogException):
        run.build_table(warehouse, "core.interruption", Settings())
    assert warehouse.execute("select count(*) from core.interruption").fetchone() == (1,)


def test_settings_reach_the_models_as_variables(warehouse) -> None:
    run.prepare(warehouse, Settings.model_validate({"episodes": {"min_block_shots": 9}}))
    assert warehouse.execute("select getvariable('min_block_shots')").fetchone() == (9,)
