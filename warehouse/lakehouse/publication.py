"""From the sites' nights to what is made of all of them: one snapshot brought in, the rest put back for its readers.

The publisher keeps databases like those of one machine. What sites committed since the last publication is brought in
from one snapshot, night by night; tables made whole, the audit and the published file are then as on one machine, and
no reader ever sees part of a site's night. Afterwards the whole tables are put on the lakehouse, and snapshots past
their time are expired with the files that only they name. Not here: how sites' nights get in (sites.py).
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from warehouse.lakehouse import tables
from warehouse.lakehouse.attachment import NAME, Lake
from warehouse.lakehouse.tables import BY_NIGHT, SITE_NIGHT, SITE_RUN, WHOLE
from warehouse.landing.exports import load
from warehouse.schema import raw
from warehouse.schema.declaration import Table
from warehouse.settings.settings import Limits

BROUGHT_IN = Table(
    "raw.brought_in",
    "one site's night as it was last brought in for publication",
    SITE_NIGHT.key,
    SITE_NIGHT.columns,
    published=False,
)
RUN_BROUGHT_IN = Table(
    "raw.run_brought_in", "one site's run whose warnings were told", SITE_RUN.key, SITE_RUN.columns, published=False
)
PUBLICATION = "publication"
"""Commit message of the snapshot that holds what a publication made."""


@dataclass
class Brought:
    """What a publication brought in: from which snapshot, which nights, and what the sites' workers warned of."""

    snapshot: int
    nights: list[date] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def bring_in(lake: Lake) -> Brought:
    """Bring the publisher's databases up to the newest snapshot, and note in stage.night which nights changed.

    Notes what was brought in only when `noted` is called, after the audit: what failed it is brought in again.
    """
    tables.make(lake)
    for table in (BROUGHT_IN, RUN_BROUGHT_IN):
        lake.connection.execute(table.ddl())
    snapshot = lake.snapshot()
    at = f"at (version => {snapshot})"
    nights = [
        row[0]
        for row in lake.read(
            f"with there as (from {NAME}.{SITE_NIGHT.name} {at}), here as (from {BROUGHT_IN.name}) "
            "select distinct coalesce(there.night, here.night) from there full join here using (site_id, night) "
            "where there.version is distinct from here.version order by all"
        )
    ]
    told = lake.read(
        f"select warnings from {NAME}.{SITE_RUN.name} {at} anti join {RUN_BROUGHT_IN.name} using (site_id, version)"
    )
    _replace(lake, nights, at)
    lake.connection.execute("create or replace table stage.night (night date)")
    if nights:
        lake.connection.execute("insert into stage.night select unnest($1::date[])", [nights])
    warnings = sorted({line for (lines,) in told for line in lines.split("\n") if line})
    return Brought(snapshot, nights, warnings)


def _replace(lake: Lake, nights: list[date], at: str) -> None:
    """Replace nights in the publisher's main database, then in its raw one; each in a transaction of its own."""
    if not nights:
        return

    def put(table: Table) -> None:
        lake.connection.execute(f"delete from {table.name} where list_contains($1, night)", [nights])
        lake.connection.execute(
            f"insert into {table.name} by name select * from {NAME}.{table.name} {at} where list_contains($1, night)",
            [nights],
        )

    def main() -> None:
        for table in BY_NIGHT:
            put(table)
        lake.connection.execute("delete from ops.night where list_contains($1, night)", [nights])
        lake.connection.execute(
            "insert into ops.night by name select night, md5(string_agg(fingerprint, ' ' order by site_id)) as "
            f"fingerprint, sum(shots)::bigint as shots from {NAME}.{SITE_NIGHT.name} {at} "
            "where fingerprint is not null and list_contains($1, night) group by night",
            [nights],
        )

    def of_exports() -> None:
        for table in (raw.EXPORT_FILE, raw.REJECTED_ROW):
            put(table)

    lake.once(main)
    lake.once(of_exports)


def noted(lake: Lake, brought: Brought) -> None:
    """Note what was brought in, once it has passed its blocking checks."""
    at = f"at (version => {brought.snapshot})"

    def note() -> None:
        for table, source in ((BROUGHT_IN, SITE_NIGHT), (RUN_BROUGHT_IN, SITE_RUN)):
            lake.connection.execute(f"delete from {table.name}")
            lake.connection.execute(f"insert into {table.name} by name select * from {NAME}.{source.name} {at}")

    lake.once(note)


def refuse_strangers(lake: Lake, landing: Path, limits: Limits) -> list[str]:
    """Note exports whose bay is in no table: no site's worker reads them; return the warnings.

    Reference tables are loaded, and what sites read is brought in.
    """
    known = {row[0] for row in lake.connection.execute("select bay_id from raw.bay").fetchall()}
    arrivals = load.changed(lake.connection, landing, limits=limits)
    arrivals.files = [file for file in arrivals.files if file.bay_id not in known]
    arrivals.restated, arrivals.removed, arrivals.withdrawn = [], [], []
    return load.load(lake.connection, landing, arrivals, limits=limits).warnings


def put_back(lake: Lake, snapshot: int, file: str) -> None:
    """Put all that was made whole on the lakehouse, in one snapshot that says which one it was made from."""

    def put() -> None:
        for table in WHOLE:
            lake.connection.execute(f"delete from {NAME}.{table.name}")
            lake.connection.execute(f"insert into {NAME}.{table.name} by name select * from {table.name}")
        said = json.dumps({"nights_from_snapshot": snapshot, "file": file})
        lake.connection.execute(f"call {NAME}.set_commit_message($1, $2, extra_info => $3)", [PUBLICATION, file, said])

    lake.once(put)


def tidy(lake: Lake, keep_days: int) -> None:
    """Join small files, expire snapshots past their time, and remove the files that nothing names any more."""
    past = f"older_than => now() - interval {keep_days} days"
    for table in BY_NIGHT:
        schema, name = table.name.split(".")
        lake.once(lambda schema=schema, name=name: lake.connection.execute(
            f"call ducklake_merge_adjacent_files('{NAME}', '{name}', schema => '{schema}')"
        ))  # fmt: skip
    lake.once(lambda: lake.connection.execute(f"call ducklake_expire_snapshots('{NAME}', {past})"))
    lake.once(lambda: lake.connection.execute(f"call ducklake_cleanup_old_files('{NAME}', {past})"))
    # A worker that was killed leaves files of a transaction that never was; a younger one may be at work on its own.
    lake.once(lambda: lake.connection.execute(f"call ducklake_delete_orphaned_files('{NAME}', {past})"))
