"""A home brought in without Dagster: what landed, its nights, tables made whole. Not here: what is asked of them."""

from __future__ import annotations

from collections.abc import Callable

import duckdb

from warehouse import build, nights
from warehouse.home import Home
from warehouse.landing import entries, exports, reference
from warehouse.model import models
from warehouse.settings import Settings


def bring_in(
    connection: duckdb.DuckDBPyConnection,
    home: Home,
    settings: Settings,
    meanwhile: Callable[[], object] = lambda: None,
) -> None:
    """Read everything that landed and build its nights; `meanwhile` may change what was read."""
    reference.load(connection, home.landing)
    exports.create_tables(connection)
    entries.load(connection, home.notebook_url(""))
    exports.load(connection, home.landing, exports.changed(connection, home.landing))
    meanwhile()
    build.prepare(connection, settings)
    build.build_nights(connection, nights.changed(connection, settings), settings)


def build_whole(connection: duckdb.DuckDBPyConnection, settings: Settings, *wanted: str) -> None:
    """Build tables that are made whole, after all that they are made from."""
    behind = {name for one in wanted for name in _behind(one)}
    for name, model in models().items():
        if name in behind and not model.by_night:
            build.build_table(connection, name, settings)


def _behind(name: str) -> set[str]:
    reads = models()[name].reads if name in models() else frozenset()
    return {name}.union(*(_behind(read) for read in reads))
