"""Connections: the private databases for the pipeline, the published file for readers.

`raw` and `stage` are attached beside the main database, which holds core, mart and ops and is what gets published.
Not here: what is in them (schema, models), nor the swap (publish.py).
"""

from __future__ import annotations

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb

from warehouse.home import Home
from warehouse.privacy import masking
from warehouse.schema.registry import macros

PUBLISHED_SCHEMAS = ("core", "mart", "ops")


class HomeIsBusy(RuntimeError):
    """Another run is at work in the same home."""


@contextmanager
def only_run(home: Home) -> Iterator[None]:
    """Hold the home for one run; the lock goes with the process, however it ends.

    Raises
    ------
    HomeIsBusy
        Another process holds it.
    """
    home.private.mkdir(parents=True, exist_ok=True)
    with (home.private / "run.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as fault:
            raise HomeIsBusy(f"another run is at work in {home.path}: wait until it has ended") from fault
        yield


@contextmanager
def private(home: Home) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open the pipeline's databases: core, mart and ops in the main one, raw and stage attached."""
    with databases(home.private) as connection:
        yield connection


@contextmanager
def databases(folder: Path, key_folder: Path | None = None) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open the databases of one worker in a folder, made where they are not there.

    `key_folder` holds the key by which masked ids differ, where that is another folder: workers of a home share it.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with duckdb.connect(folder / "warehouse.duckdb") as connection:
        connection.execute("set timezone = 'UTC'")
        connection.execute("set preserve_insertion_order = true")
        connection.execute(f"attach '{folder / 'raw.duckdb'}' as raw")
        connection.execute("attach ':memory:' as stage")
        masking.use_key(connection, key_folder or folder)
        for schema in PUBLISHED_SCHEMAS:
            connection.execute(f"create schema if not exists {schema}")
        for macro in macros(temporary=True):
            connection.execute(macro)
        yield connection


def open_published(path: Path) -> duckdb.DuckDBPyConnection:
    """Open a published file read-only, by its resolved, versioned path.

    Connecting by the link would give old content as long as another handle in the process is open.
    """
    return duckdb.connect(path.resolve(strict=True), read_only=True)
