"""How each bay's exports are read: its profile, its site's zone, and what a profile needs beside the file.

Not here: which files are to be read (discover.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import duckdb

from warehouse.landing.cells import converter
from warehouse.landing.cells.people import Students
from warehouse.landing.path_safety import in_words, misplaced
from warehouse.landing.profile import profile as profiles
from warehouse.landing.reference import read_csv
from warehouse.schema.raw import BAY, SITE, STUDENT
from warehouse.settings.settings import Limits

SLICE = 1 << 20


@dataclass(frozen=True)
class BayReading:
    """How a bay's exports are read: its profile's name and content (or what is wrong with it) and its site's zone."""

    export_profile: str
    timezone: str
    profile: profiles.Profile | None
    fault: str | None
    beside: str = ""
    """Hash of what else its exports are read by: names that are looked up, a converter."""


def settings_hash(reading: BayReading | None, limits: Limits, refused: bool, night_read: bool = True) -> str:
    """Return a hash that changes when a bay's file must be read again; limits matter to refused files only."""
    if not night_read:
        said = "not a night that is read"
    elif reading is None:
        said = "unknown bay"
    else:
        how = reading.profile.fingerprint if reading.profile else reading.fault
        said = f"{reading.export_profile}|{reading.timezone}|{how}{reading.beside}"
    said += limits.model_dump_json() if refused else ""
    return sha256(said.encode()).hexdigest()[:16]


def bay_readings(con: duckdb.DuckDBPyConnection, landing: Path) -> dict[str, BayReading]:
    """Return how each bay of raw.bay is read; every profile is read once."""
    rows = con.execute(
        "select b.bay_id, b.export_profile, s.timezone from raw.bay as b join raw.site as s using (site_id)"
    ).fetchall()
    return _readings(rows, landing, students(con))


def students(con: duckdb.DuckDBPyConnection) -> Students:
    """Return the students of raw.student, for names to be looked up in."""
    return Students.listed(con.execute("select student_id, name from raw.student").fetchall())


def students_landed(landing: Path) -> Students:
    """Return the students as their table lies in the landing folder, loaded yet or not."""
    rows = read_csv.read(landing / "academy" / read_csv.file_name(STUDENT), STUDENT).rows
    return Students.listed((row["student_id"], row["name"]) for row in rows)


def converters_of(landing: Path) -> Path:
    """Return where an academy's own converters lie: in the home, beside the landing folder."""
    return landing.parent / "converters"


def bay_readings_landed(landing: Path) -> dict[str, BayReading]:
    """Return how each bay is to be read by the tables as they lie in the landing folder, loaded yet or not."""
    sites, bays = (read_csv.read(landing / "academy" / read_csv.file_name(t), t).rows for t in (SITE, BAY))
    zones = {row["site_id"]: row["timezone"] for row in sites}
    return _readings(
        [(row["bay_id"], row["export_profile"], zones[row["site_id"]]) for row in bays if row["site_id"] in zones],
        landing,
        students_landed(landing),
    )


def _readings(rows: list[tuple[str, str, str]], landing: Path, known: Students) -> dict[str, BayReading]:
    read = {name: read_profile(name, landing) for name in {row[1] for row in rows}}
    beside = {name: read_beside(profile, landing, known) for name, (profile, _) in read.items()}
    return {bay: BayReading(name, zone, *read[name], beside[name]) for bay, name, zone in rows}


def read_profile(name: str, landing: Path) -> tuple[profiles.Profile | None, str | None]:
    """Return a profile by its name, or what is wrong with it."""
    path = landing / "profiles" / f"{name}.toml"
    wrong = misplaced(path, landing)
    if wrong or in_words(name) != name or "/" in name:
        return None, f"profiles/{in_words(name, 200)}.toml {wrong or 'is no file in profiles'}"
    try:
        return profiles.read(path), None
    except profiles.ProfileError as fault:
        return None, str(fault)


def read_beside(profile: profiles.Profile | None, landing: Path, known: Students) -> str:
    """Return a hash of what a profile is read by beside itself; empty for most."""
    if profile is None:
        return ""
    player, source = profile.columns.get("student_id"), converter.source_of(profile, converters_of(landing))
    told = known.fingerprint if player is not None and player.lookup != "id" else ""
    return told + (hash_or_none(source) or "no converter" if source else "")


def content_hash(path: Path) -> str:
    """Return the SHA-256 of a file's bytes."""
    digest = sha256()
    with path.open("rb") as file:
        while piece := file.read(SLICE):
            digest.update(piece)
    return digest.hexdigest()


def hash_or_none(path: Path) -> str | None:
    """Return the hash of a file's bytes; None where it cannot be read."""
    try:
        return content_hash(path)
    except OSError:
        return None
