"""A home brought in without Dagster: what landed, its nights, tables made whole. Not here: what is asked of them."""

from __future__ import annotations

from collections.abc import Callable

import duckdb

from warehouse.build import fingerprints, run
from warehouse.build.model import models
from warehouse.home import Home
from warehouse.landing import notebook_entries
from warehouse.landing.exports import load
from warehouse.landing.reference import load as reference
from warehouse.settings.settings import Settings


def bring_in(
    connection: duckdb.DuckDBPyConnection,
    home: Home,
    settings: Settings,
    meanwhile: Callable[[], object] = lambda: None,
) -> None:
    """Read everything that landed and build its nights; `meanwhile` may change what was read."""
    reference.load(connection, home.landing)
    load.create_tables(connection)
    notebook_entries.load(connection, home.notebook_url(""))
    load.load(connection, home.landing, load.changed(connection, home.landing))
    meanwhile()
    run.prepare(connection, settings)
    run.build_nights(connection, fingerprints.changed(connection, settings), settings)


def build_whole(connection: duckdb.DuckDBPyConnection, settings: Settings, *wanted: str) -> None:
    """Build tables that are made whole, after all that they are made from."""
    behind = {name for one in wanted for name in _behind(one)}
    for name, model in models().items():
        if name in behind and not model.by_night:
            run.build_table(connection, name, settings)


def _behind(name: str) -> set[str]:
    reads = models()[name].reads if name in models() else frozenset()
    return {name}.union(*(_behind(read) for read in reads))
