"""Through which night each part of a publication is current: sessions and blocks by day, evidence by night.

A run during the day renews sessions and blocks and carries the evidence over from the last night. It may do so only
where that evidence is whole, audited, and made by the same code. Not here: which tables a run makes (pipelines).
"""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache
from pathlib import Path

import duckdb

from warehouse.build.model import code_behind, code_hash, models
from warehouse.home import Home

BLOCKS, EVIDENCE = PARTS = ("sessions and blocks", "evidence")
UNSETTLED = "being made"
"""Stands in place of the hash while a night makes its evidence: a night that fails leaves it so."""


@cache
def made_by() -> str:
    """Return a hash of all models, what they import, and what is declared of tables."""
    files = set((Path(__file__).parents[1] / "schema").glob("*.py"))
    for model in models().values():
        files |= code_behind(model.path) if model.path.suffix == ".py" else {model.path}
    return code_hash(files)


def note(connection: duckdb.DuckDBPyConnection, *, evidence: bool) -> None:
    """Note what this publication renewed: sessions and blocks always, evidence by night."""
    now = datetime.now(UTC).replace(tzinfo=None)
    for part in PARTS if evidence else (BLOCKS,):
        connection.execute("delete from ops.current_through where part = ?", [part])
        connection.execute(
            "insert into ops.current_through select ?, max(night), ?, ? from ops.night", [part, now, made_by()]
        )


def unsettle(connection: duckdb.DuckDBPyConnection) -> None:
    """Note that the evidence is being made anew: until it is published nothing may carry it over."""
    connection.execute("update ops.current_through set made_by = ? where part = ?", [UNSETTLED, EVIDENCE])


def settled(connection: duckdb.DuckDBPyConnection) -> bool:
    """Return whether the evidence is whole and of this code, so that a run during the day may carry it over."""
    try:
        found = connection.execute("select made_by from ops.current_through where part = ?", [EVIDENCE]).fetchone()
    except duckdb.CatalogException:  # a home of before this table
        return False
    return bool(found) and found[0] == made_by()


def settled_in(home: Home) -> bool:
    """Return the same of a home's private database; while a run holds that, of the published file."""
    for path in (home.private / "warehouse.duckdb", home.current):
        try:
            with duckdb.connect(path.resolve(strict=True), read_only=True) as opened:
                return settled(opened)
        except (duckdb.Error, OSError):
            continue
    return False
