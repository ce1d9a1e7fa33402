"""One site's nights, brought in by one worker and committed to the lakehouse in one transaction.

The worker has databases of its own, made for the run: the site's books come from the lakehouse, its exports from the
landing folder, and the same models build the same tables as on one machine. What passed its audit replaces the site's
nights in the lakehouse, raw and core together; so a worker that is killed leaves nothing half done, and a commit that
has to be repeated costs no computation. Not here: what is made of all sites together (publication.py).
"""

from __future__ import annotations

import hashlib
import shutil
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path

import duckdb

from warehouse.audit import audit
from warehouse.build import fingerprints, raw_retention
from warehouse.build import run as build
from warehouse.connection import HomeIsBusy, databases
from warehouse.home import Home
from warehouse.lakehouse import lease, tables
from warehouse.lakehouse.attachment import NAME, Lake
from warehouse.lakehouse.tables import BY_NIGHT, NIGHT_STUDENT, SITE_NIGHT, SITE_RUN
from warehouse.landing import notebook_entries
from warehouse.landing.exports import load
from warehouse.landing.reference import load as reference
from warehouse.landing.reference import read_csv
from warehouse.landing.reference.read_csv import file_name
from warehouse.schema import raw
from warehouse.schema.declaration import BLOCKING, Table
from warehouse.settings.clock import nights_read
from warehouse.settings.settings import Settings

CUT_TO_SITE = (
    "delete from raw.bay where site_id <> $1",
    "delete from raw.site where site_id <> $1",
    "delete from raw.lesson where bay_id not in (select bay_id from raw.bay)",
    "delete from raw.drill_log where lesson_id not in (select lesson_id from raw.lesson)",
    "delete from raw.set_aside where bay_id not in (select bay_id from raw.bay)",
    "delete from raw.entered_drill where coalesce(bay_id not in (select bay_id from raw.bay), true) "
    "and coalesce(lesson_id not in (select lesson_id from raw.lesson), true)",
)
"""So that a night of this site changes only by what is this site's."""


class NotFit(RuntimeError):
    """A blocking check failed: nothing of this run was committed; the message says which."""


@dataclass
class SiteNights:
    """What a run brought in for a site.

    Attributes
    ----------
    built, read
        Nights built, and nights of which exports were read.
    rows_loaded
        Rows loaded from those exports.
    repeated
        How often a step on the lakehouse was repeated.
    warnings
        In words.
    """

    site_id: str
    built: list[date] = field(default_factory=list)
    read: list[date] = field(default_factory=list)
    rows_loaded: int = 0
    repeated: int = 0
    warnings: list[str] = field(default_factory=list)


def sites(landing: Path) -> dict[str, list[str]]:
    """Return each site's bays, as the landing folder's tables stand."""
    held, bays = (read_csv.read(landing / "academy" / file_name(t), t).rows for t in (raw.SITE, raw.BAY))
    return {
        site["site_id"]: sorted(bay["bay_id"] for bay in bays if bay["site_id"] == site["site_id"]) for site in held
    }


def scratch(home: Home, settings: Settings, site_id: str) -> Path:
    """Return the folder of a site's worker."""
    folder = Path(settings.lakehouse.scratch) if settings.lakehouse.scratch else home.private / "workers"
    said = f"{settings.lakehouse.catalog_schema} {site_id}".encode()
    return folder / hashlib.blake2b(said, digest_size=8).hexdigest()


def bring_in(
    home: Home,
    settings: Settings,
    site_id: str,
    *,
    night: date | None = None,
    rebuild: bool = False,
    progress: build.Progress = build.silent,
) -> SiteNights:
    """Read what landed or changed at a site, build the nights it changes, audit them, and commit them.

    Parameters
    ----------
    night
        Only this night's exports.
    rebuild
        Everything of this site from the landing folder, in the place of all that is there.

    Raises
    ------
    HomeIsBusy
        Another worker is at work on this site.
    NotFit
        A blocking check failed.
    """
    known = sites(home.landing)
    if site_id not in known:
        raise ValueError(f"site {site_id!r} is not in sites.csv: one of {', '.join(known)}")
    folder = scratch(home, settings, site_id)
    with lease.held(home, settings.lakehouse, lease.site(site_id)) as still_held:
        shutil.rmtree(folder, ignore_errors=True)
        try:
            with databases(folder, home.private) as connection:
                done = SiteNights(site_id, warnings=_landed_tables(connection, home, settings, site_id))
                lake = Lake.open(connection, home, settings)
                worker = _Worker(home, settings, site_id, lake, known[site_id], rebuild)
                return worker.run(done, night, progress, still_held)
        finally:
            shutil.rmtree(folder, ignore_errors=True)


def _landed_tables(connection: duckdb.DuckDBPyConnection, home: Home, settings: Settings, site_id: str) -> list[str]:
    """Load what is the site's of the academy's tables and the notebook, and make all tables; return warnings."""
    warnings = reference.load(connection, home.landing).warnings
    notebook_entries.load(connection, home.notebook_url(settings.notebook.url))
    for statement in CUT_TO_SITE:
        connection.execute(statement, [site_id] if "$1" in statement else [])
    load.create_tables(connection)
    raw_retention.create_tables(connection)
    build.prepare(connection, settings)
    return warnings


@dataclass
class _Worker:
    home: Home
    settings: Settings
    site_id: str
    lake: Lake
    bays: list[str]
    rebuild: bool

    @property
    def connection(self) -> duckdb.DuckDBPyConnection:
        return self.lake.connection

    def run(
        self, done: SiteNights, night: date | None, progress: build.Progress, still_held: Callable[[], bool]
    ) -> SiteNights:
        tables.make(self.lake)
        if not self.rebuild:
            self._books()
        restated = self._load(night, progress, done)
        changed = fingerprints.changed(self.connection, self.settings)
        self._fetch(set(changed) - set(done.read))
        build.build_nights(self.connection, changed, self.settings, progress)
        done.built = sorted(changed)
        self._audit(done)
        if done.built or done.read or restated or self.rebuild:
            progress("committing", 0, 1)
            self._commit(done, restated, still_held)
        done.repeated = self.lake.repeated
        return done

    def _books(self) -> None:
        """Take over which exports were read, which students they name and which nights were built."""
        mine = [self.bays]
        for table in (raw.EXPORT_FILE, raw.REJECTED_ROW):
            self._take(f"insert into {table.name} by name select * from {NAME}.{table.name} "
                       "where list_contains($1, bay_id)", mine)  # fmt: skip
        self._take(f"insert into raw.trimmed_student by name select night, student_id from {NAME}.{NIGHT_STUDENT.name} "
                   "where site_id = $1", [self.site_id])  # fmt: skip
        self._take(f"insert into ops.night by name select night, fingerprint, shots from {NAME}.{SITE_NIGHT.name} "
                   "where site_id = $1 and fingerprint is not null", [self.site_id])  # fmt: skip

    def _take(self, statement: str, given: list[object]) -> None:
        self.lake.once(lambda: self.connection.execute(statement, given))

    def _fetch(self, missing: set[date]) -> None:
        """Take over the raw shots of nights: a night is here whole or not at all."""
        for table in (raw.SHOT, raw.REPEATED_SHOT) if missing and not self.rebuild else ():
            self._take(f"insert into {table.name} by name select * from {NAME}.{table.name} "
                       "where list_contains($1, night) and list_contains($2, bay_id)",
                       [sorted(missing), self.bays])  # fmt: skip
        self.connection.execute("delete from raw.trimmed_student where list_contains($1, night)", [sorted(missing)])

    def _load(self, night: date | None, progress: build.Progress, done: SiteNights) -> list[date]:
        """Read new and changed exports; return nights of which only books changed."""
        landed = load.changed(
            self.connection, self.home.landing, night, limits=self.settings.limits, nights=nights_read(self.settings)
        )
        landed.files = [file for file in landed.files if file.bay_id in set(self.bays)]
        landed.restated = [file for file in landed.restated if file.bay_id in set(self.bays)]
        if night is not None:
            landed = landed.of_nights({night})
        landed.warnings = []
        withdrawn = {date.fromisoformat(path.split("/")[0]) for path in landed.withdrawn}
        read = {file.night for file in landed.files} | withdrawn
        self._fetch(read)
        summary = load.load(
            self.connection,
            self.home.landing,
            landed,
            limits=self.settings.limits,
            progress=lambda at, of, what: progress(what, at, of),
        )
        done.read, done.rows_loaded = sorted(read), summary.rows_loaded
        done.warnings += summary.warnings
        gone = {date.fromisoformat(path.split("/")[0]) for path in landed.removed}
        return sorted({file.night for file in landed.restated} | gone)

    def _audit(self, done: SiteNights) -> None:
        """Check what was built, as on one machine; warnings are found again when it is published."""
        names = {table.name for table in BY_NIGHT}
        asked = tuple(check for check in audit.checks() if check.table in names and check.severity == BLOCKING)
        if faults := audit.run(self.connection, asked):
            raise NotFit(f"site {self.site_id}: " + "; ".join(fault.sentence() for fault in faults))
        fingerprints.audited(self.connection)

    def _commit(self, done: SiteNights, restated: list[date], still_held: Callable[[], bool]) -> None:
        with lease.held(self.home, self.settings.lakehouse, lease.COMMIT, wait=True):
            if not still_held():
                raise HomeIsBusy(f"another worker took site {self.site_id} over: nothing was committed")
            self.lake.once(lambda: self._replace(done, restated))

    def _replace(self, done: SiteNights, restated: list[date]) -> None:
        """Replace the site's nights by those at hand, raw and core together; in a transaction that may be repeated."""
        here, touched = sorted({*done.read, *done.built}), sorted({*done.read, *done.built, *restated})
        bays, version = [*self.bays, *self._strays()], uuid.uuid4().hex
        for table in (raw.SHOT, raw.REPEATED_SHOT, raw.REJECTED_ROW):
            self._put(table, done.read, bays)
        self._put(raw.EXPORT_FILE, sorted({*done.read, *restated}), bays)
        for table in BY_NIGHT:
            self._put(table, done.built, bays)
        for table in (SITE_NIGHT, NIGHT_STUDENT):
            of_nights = touched if table is SITE_NIGHT else here
            which, given = ("", []) if self.rebuild else (" and list_contains($2, night)", [of_nights])
            self._run(f"delete from {NAME}.{table.name} where site_id = $1{which}", self.site_id, *given)
        self._run(
            f"insert into {NAME}.{SITE_NIGHT.name} "
            "select $1, night, built.fingerprint, coalesce(built.shots, 0), $2 "
            "from (select unnest($3::date[]) as night) left join ops.night as built using (night)",
            self.site_id, version, touched,
        )  # fmt: skip
        self._run(
            f"insert into {NAME}.{NIGHT_STUDENT.name} select distinct $1, night, student_id from raw.shot "
            "where student_id is not null and list_contains($2, night)",
            self.site_id, here,
        )  # fmt: skip
        self._run(f"delete from {NAME}.{SITE_RUN.name} where site_id = $1", self.site_id)
        now, warnings = datetime.now(UTC).replace(tzinfo=None), "\n".join(done.warnings)
        self._run(f"insert into {NAME}.{SITE_RUN.name} values ($1, $2, $3, $4)", self.site_id, version, now, warnings)
        self._run(f"call {NAME}.set_commit_message($1, $2)", f"site {self.site_id}", f"{len(touched)} nights")

    def _run(self, statement: str, *given: object) -> list[tuple]:
        return self.connection.execute(statement, list(given)).fetchall()

    def _put(self, table: Table, of_nights: list[date], bays: list[str]) -> None:
        """Replace these bays' nights of a table; with a rebuild, all of these bays' rows."""
        if self.rebuild:
            self._run(f"delete from {NAME}.{table.name} where list_contains($1, bay_id)", bays)
        elif of_nights:
            self._run(f"delete from {NAME}.{table.name} where list_contains($1, night) and list_contains($2, bay_id)",
                      of_nights, bays)  # fmt: skip
        if of_nights:
            self._run(f"insert into {NAME}.{table.name} by name select * from {table.name} "
                      "where list_contains($1, night) order by night, bay_id", of_nights)  # fmt: skip

    def _strays(self) -> list[str]:
        """Return bays that are no longer in bays.csv: they have no site that would take their rows out."""
        everywhere = [bay for bays in sites(self.home.landing).values() for bay in bays]
        told = self._run(f"select distinct bay_id from {NAME}.raw.export_file where not list_contains($1, bay_id)",
                         everywhere)  # fmt: skip
        return [row[0] for row in told]
