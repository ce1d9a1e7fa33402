"""Whether this machine and this home are fit for tonight, a line each with its remedy. Changes nothing.

Not here: the home's databases and what lies around them (doctor_databases.py).
"""

from __future__ import annotations

import importlib.metadata
import os
import shutil
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import IntEnum
from pathlib import Path
from zoneinfo import ZoneInfo

import duckdb

from pipelines.care import alerts, doctor_databases
from warehouse.home import Home
from warehouse.landing.exports import discover
from warehouse.landing.reference import load
from warehouse.settings import settings
from warehouse.settings.settings import Settings, SettingsFault
from warehouse.settings.site_zones import zones_of_sites

BUILT_IN = ("icu", "json", "parquet")
"""Extensions that models and landing need; they come inside the database library."""
OPENS, CLOSES = 7, 24
"""Hours between which bays may be open; a run then would read half a night."""
ROOM = 3
"""A run needs its databases once more for publishing, and as much again while it writes."""


class Level(IntEnum):
    """How bad a finding is; the worst one's value is the command's exit code."""

    OK = 0
    FAULT = 2
    WARNING = 3

    @property
    def word(self) -> str:
        """Return it in words."""
        return self.name.lower()


@dataclass(frozen=True)
class Finding:
    """One thing looked at: how it stands, and what to do where it does not stand well."""

    what: str
    level: Level
    said: str
    remedy: str = ""

    def __str__(self) -> str:
        """Return the finding as a line."""
        return f"{self.level.word:<8}{self.what}: {self.said}" + (f"; {self.remedy}" if self.remedy else "")


def examine(home: Home) -> list[Finding]:
    """Look at everything and return what was found, in the order in which it is to be read."""
    found = [*versions(), *disk(home), *permissions(home)]
    try:
        chosen = settings.load(home.path)
        found.append(Finding("academy.toml", Level.OK, "read"))
    except SettingsFault as fault:
        found.append(Finding("academy.toml", Level.FAULT, str(fault), "correct it; until then defaults are looked at"))
        chosen = Settings()
    found += [*clock(home, chosen), *landing(home, chosen)]
    for what, level, said, remedy in doctor_databases.examine(home, chosen):
        found.append(Finding(what, Level[level], said, remedy))
    return found


def worst(found: list[Finding]) -> Level:
    """Return the exit code: 2 where there is a fault, 3 where there is a warning, else 0."""
    levels = {finding.level for finding in found}
    return Level.FAULT if Level.FAULT in levels else Level.WARNING if Level.WARNING in levels else Level.OK


def tell(home: Home, found: list[Finding]) -> list[str]:
    """Send faults and silence to the alert command; return what went wrong with sending."""
    chosen = alerts.settings_of(home)
    said = []
    if quiet := alerts.silence(home):
        said.append(alerts.send(chosen, alerts.SILENCE, quiet, home=home.path.name))
    faults = [str(finding) for finding in found if finding.level is Level.FAULT]
    if faults:
        said.append(alerts.send(chosen, alerts.FAILURE, "; ".join(faults), home=home.path.name))
    return [fault for fault in said if fault]


def versions() -> Iterator[Finding]:
    """Compare what is installed with what the distribution asks for."""
    from packaging.requirements import Requirement

    yield Finding("python", Level.OK, sys.version.split()[0])
    for line in importlib.metadata.requires("drill-evidence") or []:
        asked = Requirement(line)
        if asked.marker is not None:
            continue
        try:
            there = importlib.metadata.version(asked.name)
        except importlib.metadata.PackageNotFoundError:
            yield Finding(asked.name, Level.FAULT, "is not installed", "install the distribution again")
            continue
        fits = asked.specifier.contains(there, prereleases=True)
        remedy = "" if fits else f"{asked.specifier} is asked for: install the distribution again"
        yield Finding(asked.name, Level.OK if fits else Level.FAULT, there, remedy)
    with duckdb.connect() as con:
        there = dict(con.execute("select extension_name, extension_version from duckdb_extensions() where loaded or "
                                 "installed").fetchall())  # fmt: skip
    for name in BUILT_IN:
        level = Level.OK if name in there else Level.FAULT
        said = (there[name] or "built in") if name in there else "is missing"
        yield Finding(f"duckdb's {name}", level, said, "" if name in there else "install duckdb again")


def size_of(folder: Path) -> int:
    """Return the bytes of a folder's plain files, links not followed."""
    total = 0
    for place, _, names in os.walk(folder):
        for name in names:
            try:
                total += os.lstat(os.path.join(place, name)).st_size
            except OSError:
                continue
    return total


def megabytes(size: float) -> str:
    """Return a size in words."""
    return f"{size / 1e6:,.0f} MB"


def disk(home: Home) -> Iterator[Finding]:
    """Compare free space with what a run writes."""
    there = next(folder for folder in (home.path, *home.path.parents) if folder.exists())
    free = shutil.disk_usage(there).free
    private, whole = size_of(home.private), size_of(home.path)
    needs = max(ROOM * private, size_of(home.landing))
    said = f"{megabytes(free)} free, the home holds {megabytes(whole)}, a rebuild may need {megabytes(needs)}"
    if free < needs:
        yield Finding("disk", Level.FAULT, said, "free space, or move the home to a larger disk")
    elif free < 2 * needs:
        yield Finding("disk", Level.WARNING, said, "free space before the academy has doubled")
    else:
        yield Finding("disk", Level.OK, said)
    found = os.statvfs(there)
    if found.f_files and found.f_favail < 1000:
        yield Finding("disk", Level.FAULT, f"{found.f_favail} files may still be made", "remove small files")


def permissions(home: Home) -> Iterator[Finding]:
    """Say what may not be read or written by the account this runs as, and what everybody on the machine may read."""
    for folder, right, why in (
        (home.path, os.W_OK, "written"), (home.private, os.W_OK, "written"), (home.published, os.W_OK, "written"),
        (home.landing, os.R_OK, "read"),
    ):  # fmt: skip
        if not folder.exists():
            if folder == home.landing:
                yield Finding("landing", Level.FAULT, f"{folder} does not exist", "run `academy start`")
            continue
        if not os.access(folder, right | os.X_OK):
            yield Finding(folder.name, Level.FAULT, f"{folder} cannot be {why} by this account", "correct its rights")
    students = home.landing / "academy" / "students.csv"
    open_to_all = (
        students.exists()
        and students.stat().st_mode & 0o004
        and all(folder.stat().st_mode & 0o001 for folder in (students.parent, home.landing, home.path))
    )
    if open_to_all:
        yield Finding("permissions", Level.WARNING, "every account of this machine can read students.csv",
                      f"`chmod o-rwx {home.path}`")  # fmt: skip
    else:
        yield Finding("permissions", Level.OK, "folders can be read and written, and by no account without a right to")


def clock(home: Home, chosen: Settings) -> Iterator[Finding]:
    """Say what can be known of the clock without a network."""
    now = datetime.now(UTC)
    here = now.astimezone(ZoneInfo(chosen.academy.timezone))
    said = f"{here:%Y-%m-%d %H:%M} in {chosen.academy.timezone}; its drift cannot be measured offline"
    newest = max((path.stat().st_mtime for path in home.landing.glob("shots/*/*") if path.is_file()), default=0)
    if newest > time.time() + 3600:
        yield Finding("clock", Level.WARNING, f"{said}; an export is dated {newest - time.time():,.0f} s ahead of it",
                      "compare this machine's clock with the bays'")  # fmt: skip
    else:
        yield Finding("clock", Level.OK, said)
    yield from open_at_night(home, chosen)
    with duckdb.connect() as con:
        known = con.execute("select 1 from pg_timezone_names() where name = ?", [chosen.academy.timezone]).fetchone()
    if known is None:
        yield Finding("time zone", Level.FAULT, f"{chosen.academy.timezone} is unknown to the database",
                      "choose another name of the zone")  # fmt: skip


def open_at_night(home: Home, chosen: Settings) -> Iterator[Finding]:
    """Compare the nightly run with the hours at every site: a night that is not over is read again the next day."""
    hour, minute = map(int, chosen.academy.nightly_at.split(":"))
    zone = chosen.academy.timezone
    run = datetime.now(ZoneInfo(zone)).replace(hour=hour, minute=minute)
    what, said = "nightly run", f"at {chosen.academy.nightly_at} in {zone}"
    sites = zones_of_sites(home.path)
    if not sites:
        yield Finding(what, Level.WARNING, f"{said}, which no site named", "fill sites.csv, or set [academy] timezone")
        return
    there = {other: run.astimezone(ZoneInfo(other)) for other in sites}
    clash = [f"{at:%H:%M} in {other}" for other, at in there.items() if OPENS <= at.hour < CLOSES]
    if clash:
        remedy = "correct [academy] timezone or nightly_at, or leave the time zone out: then it is the sites'"
        yield Finding(what, Level.WARNING, f"{said} is {' and '.join(clash)}, when bays are open", remedy)
    else:
        yield Finding(what, Level.OK, said)


def landing(home: Home, chosen: Settings) -> Iterator[Finding]:
    """Read the tables and every profile as the night would."""
    if not (home.landing / "academy").is_dir():
        yield Finding("tables", Level.FAULT, "landing/academy does not exist", "run `academy start`")
        return
    try:
        contents = load.read_all(home.landing)
    except load.ReferenceTablesError as fault:
        for one in fault.faults:
            yield Finding("tables", Level.FAULT, str(one))
        return
    warned = [warning for content in contents.values() for warning in content.warnings]
    yield Finding("tables", Level.WARNING if warned else Level.OK, f"read, {len(warned)} warnings",
                  warned[0] if warned else "")  # fmt: skip
    readings = discover.bay_readings_landed(home.landing)
    broken: dict[str, list[str]] = {}
    for bay, reading in readings.items():
        if reading.fault:
            broken.setdefault(reading.fault, []).append(bay)
    for fault, bays in broken.items():
        yield Finding("profiles", Level.FAULT, fault, f"bays {', '.join(sorted(bays))} are refused until it is mended")
    used = {reading.export_profile for reading in readings.values()}
    if not broken:
        yield Finding("profiles", Level.OK, f"{len(used)} read, for {len(readings)} bays")
    spare = sorted(path.stem for path in (home.landing / "profiles").glob("*.toml") if path.stem not in used)
    if spare:
        yield Finding("profiles", Level.WARNING, f"no bay uses {', '.join(spare)}", "remove them, or name them in bays")
    unset = sorted(set(chosen.bays) - set(readings))
    if unset:
        yield Finding("academy.toml", Level.WARNING, f"[bays] names {', '.join(unset)}, which bays.csv does not have",
                      "correct one of them")  # fmt: skip
