"""The SQL of the house uses nothing that DuckLake lacks: every model and check runs on it, with the same rows."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from demo_data.generate import SAMPLE_FOLDER
from warehouse import connection
from warehouse.audit import audit
from warehouse.build import fingerprints, run
from warehouse.build.model import models
from warehouse.home import Home
from warehouse.lakehouse import attachment
from warehouse.landing import notebook_entries
from warehouse.landing.exports import load
from warehouse.landing.reference import load as reference
from warehouse.schema.registry import TABLES, macros
from warehouse.settings.lakehouse import Lakehouse
from warehouse.settings.settings import Settings

LANDING = SAMPLE_FOLDER / "landing"
SETTINGS = Settings()
OWN_BOOKS = {"ops.publication", "ops.check_result", "ops.run_step", "ops.export_file"}
"""Of the run, not of the data; an export's row says when it was read."""


@contextmanager
def on_ducklake(folder: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open core, mart and ops on DuckLake, raw and stage attached as on one machine."""
    settings = Lakehouse(catalog="catalog.ducklake")
    with duckdb.connect(config={"autoinstall_known_extensions": "false"}) as opened:
        opened.execute("set timezone = 'UTC'")
        attachment.prepare(opened, settings)
        attachment.attach(opened, settings, Home(folder))
        opened.execute(f"attach '{folder / 'raw.duckdb'}' as raw")
        opened.execute("attach ':memory:' as stage")
        opened.execute(f"use {attachment.NAME}")
        for schema in connection.PUBLISHED_SCHEMAS:
            opened.execute(f"create schema {schema}")
        for macro in macros(temporary=True):
            opened.execute(macro)
        yield opened


def built(opened: duckdb.DuckDBPyConnection, folder: Path) -> tuple[dict[str, set[str]], dict[str, int]]:
    """Build everything; return each table's rows and what each check found."""
    reference.load(opened, LANDING)
    notebook_entries.load(opened, f"sqlite:///{folder / 'no-notebook.sqlite'}")
    load.create_tables(opened)
    load.load(opened, LANDING, load.changed(opened, LANDING))
    run.prepare(opened, SETTINGS)
    run.build_nights(opened, fingerprints.changed(opened, SETTINGS), SETTINGS)
    fingerprints.audited(opened)
    for model in models().values():
        if not model.by_night:
            run.build_table(opened, model.name, SETTINGS)
    rows = {}
    for name, table in TABLES.items():
        if name not in OWN_BOOKS:
            columns = ", ".join(
                f'"{column.name}" + 0' if column.type == "DOUBLE" else f'"{column.name}"' for column in table.columns
            )
            rows[name] = {repr(row) for row in opened.execute(f"select {columns} from {name}").fetchall()}
    return rows, {fault.check.name: fault.faults for fault in audit.run(opened, audit.checks())}


def test_every_model_and_check_runs_on_ducklake_itself_with_the_rows_of_one_file(tmp_path: Path) -> None:
    (tmp_path / "lake").mkdir()
    with on_ducklake(tmp_path / "lake") as opened:
        rows, found = built(opened, tmp_path)
    with connection.databases(tmp_path / "one-file") as opened:
        expected, expected_found = built(opened, tmp_path)
    assert sum(map(len, expected.values())) > 10_000
    assert [name for name in expected if rows[name] != expected[name]] == []
    assert found == expected_found
