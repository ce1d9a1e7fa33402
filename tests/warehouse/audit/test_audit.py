"""Checks made from declarations: each kind of fault is found, and nothing is found where all is well."""

from __future__ import annotations

import duckdb
import pytest

from warehouse.audit import audit
from warehouse.build import run
from warehouse.schema import entered, raw
from warehouse.schema.declaration import BLOCKING, WARNING, Column, Table
from warehouse.schema.registry import TABLES
from warehouse.settings.settings import Settings

TABLE = Table(
    "core.thing", "one thing", ("thing_id",),
    (
        Column("thing_id", "VARCHAR", "The thing."),
        Column("share", "DOUBLE", "A share.", nullable=True, low=0, high=1),
        Column("kind", "VARCHAR", "Which.", nullable=True, values=("a", "b")),
        Column("late", "BOOLEAN", "Late.", severity=WARNING),
    ),
)  # fmt: skip


@pytest.fixture
def database():
    """A database with that table."""
    with duckdb.connect() as connection:
        connection.execute("create schema core")
        connection.execute(TABLE.ddl())
        yield connection


def found(database, *rows: tuple) -> dict[str, tuple[int, str | None]]:
    """Put rows in and return severity -> what its check found."""
    database.executemany("insert into core.thing values (?, ?, ?, ?)", rows)
    return {fault.check.severity: (fault.faults, fault.example) for fault in audit.run(database, tuple(
        audit.declared(TABLE)))}  # fmt: skip


def test_rows_as_declared_have_no_fault(database) -> None:
    assert found(database, ("x", 0.0, "a", True), ("y", 1.0, None, False), ("z", None, "b", False)) == {}


@pytest.mark.parametrize(
    ("row", "severity", "example"),
    [
        ((None, 0.5, "a", False), BLOCKING, "thing_id of -"),
        (("x", -0.01, "a", False), BLOCKING, "share of x"),
        (("x", 1.01, "a", False), BLOCKING, "share of x"),
        (("x", float("nan"), "a", False), BLOCKING, "share of x"),
        (("x", float("inf"), "a", False), BLOCKING, "share of x"),
        (("x", 0.5, "c", False), BLOCKING, "kind of x"),
        (("x", 0.5, "a", None), WARNING, "late of x"),
    ],
)
def test_each_kind_of_fault_is_found_with_its_severity_and_an_example(database, row, severity, example) -> None:
    assert found(database, row, ("good", 0.5, "a", False)) == {severity: (1, example)}


def test_a_key_that_repeats_is_found_once_and_blocks(database) -> None:
    row = ("x", 0.5, "a", False)
    assert found(database, row, row, row, ("y", 0.5, "a", False)) == {BLOCKING: (1, "repeated key x")}


def test_every_check_runs_on_an_empty_warehouse_and_finds_nothing() -> None:
    with duckdb.connect() as connection:
        for schema in ("raw", "stage", "core", "mart", "ops"):
            connection.execute(f"create schema {schema}")
        for table in (*raw.TABLES, *entered.TABLES):
            connection.execute(table.ddl())
        run.prepare(connection, Settings())
        connection.execute("create table stage.night (night date)")
        assert audit.run(connection, audit.checks()) == []


def test_every_declared_table_has_a_blocking_check_and_the_accounting_identity_blocks() -> None:
    blocking = {check.table for check in audit.checks() if check.severity == BLOCKING}
    assert blocking == set(TABLES)
    (accounting,) = [check for check in audit.checks() if check.name == "accounting"]
    assert (accounting.table, accounting.severity) == ("ops.export_file", BLOCKING)


def test_checks_are_named_once_a_table_and_say_blocking_or_warning() -> None:
    names = [(check.table, check.name) for check in audit.checks()]
    assert len(names) == len(set(names))
    assert {check.severity for check in audit.checks()} == {BLOCKING, WARNING}


def test_by_night_tables_are_checked_for_the_nights_built_only() -> None:
    table = TABLES["core.session"]
    assert table.night is not None
    assert "stage.night" in audit.scope(table)
    assert "stage.night" not in audit.scope(TABLES["mart.student"])


def test_a_finding_is_told_in_words_with_its_count() -> None:
    check = audit.Check("n", "core.thing", BLOCKING, "something is amiss", "")
    assert audit.Fault(check, 1234, "x").sentence() == "core.thing: something is amiss (1,234 found, such as x)"


@pytest.mark.parametrize("path", sorted(audit.FOLDER.glob("*.sql")), ids=lambda path: path.stem)
def test_a_written_check_says_its_severity_its_table_and_what_to_do(path) -> None:
    severity, about, remedy, *_ = path.read_text(encoding="utf-8").split("\n")
    assert severity.removeprefix("-- ").split(": ", 1)[0] in (BLOCKING, WARNING)
    assert about.startswith("-- about: ") and about.removeprefix("-- about: ") in TABLES
    assert remedy.startswith("-- remedy: ")
    check = next(one for one in audit.written() if one.name == path.stem.replace("_", " "))
    assert audit.Fault(check, 3, "B1").sentence().endswith(f"(3 found, such as B1); {check.remedy}")
