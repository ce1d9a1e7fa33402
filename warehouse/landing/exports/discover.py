"""Which exports lie in the landing folder, and which of them changed since they were last read.

Cheap first: size and time of change; the content's hash only where those differ. Not here: reading them (exports.py).
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

import duckdb

from warehouse.academy_clock import EVERY_NIGHT, NightRange
from warehouse.landing.path_safety import in_words, misplaced
from warehouse.landing.profile import profile as profiles
from warehouse.landing.reference import read_csv
from warehouse.schema.raw import BAY, SITE
from warehouse.settings.settings import Limits

SUFFIXES = (".csv.gz", ".tsv.gz", ".jsonl.gz", ".csv", ".tsv", ".parquet", ".jsonl")
SET_ASIDE = (".tmp", ".part", "~")
SLICE = 1 << 20


@dataclass(frozen=True)
class ExportFile:
    """One export in the landing folder; `path` is under landing/shots with forward slashes."""

    path: str
    night: dt.date
    bay_id: str
    suffix: str
    size_bytes: int
    modified_ns: int


@dataclass(frozen=True)
class BayReading:
    """How a bay's exports are read: its profile's name and content (or what is wrong with it) and its site's zone."""

    export_profile: str
    timezone: str
    profile: profiles.Profile | None
    fault: str | None


def settings_hash(reading: BayReading | None, limits: Limits, refused: bool, night_read: bool = True) -> str:
    """Return a hash that changes when a bay's file must be read again; limits matter to refused files only."""
    if not night_read:
        said = "not a night that is read"
    elif reading is None:
        said = "unknown bay"
    else:
        how = reading.profile.fingerprint if reading.profile else reading.fault
        said = f"{reading.export_profile}|{reading.timezone}|{how}"
    said += limits.model_dump_json() if refused else ""
    return sha256(said.encode()).hexdigest()[:16]


@dataclass
class Arrivals:
    """What is to be read, and what else was seen.

    Attributes
    ----------
    files
        New or changed exports, or those whose profile, bay or site changed.
    restated
        Exports whose size or time differ but whose content is the same: only that is to be remembered.
    removed
        Paths read before that are gone; what was loaded from them stays.
    warnings
        What lies in landing/shots and is no export, and what was removed, in words.
    nights
        The nights whose exports are read; files of others are among `files`, to be refused.
    """

    files: list[ExportFile] = field(default_factory=list)
    restated: list[ExportFile] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    nights: NightRange = EVERY_NIGHT

    def __iter__(self) -> Iterator[ExportFile]:
        """Iterate over the files to be read."""
        return iter(self.files)

    def __len__(self) -> int:
        """Return how many files are to be read."""
        return len(self.files)

    def of_nights(self, nights: Collection[dt.date]) -> Arrivals:
        """Return what belongs to these nights, and what is of a night that is not read; warnings all stay."""
        return Arrivals(
            [file for file in self.files if file.night in nights or file.night not in self.nights],
            [file for file in self.restated if file.night in nights],
            [path for path in self.removed if dt.date.fromisoformat(path.split("/")[0]) in nights],
            self.warnings,
            self.nights,
        )


def split_name(name: str) -> tuple[str, str]:
    """Return (bay, suffix) of an export's file name; the suffix is empty where it is no known kind."""
    for suffix in SUFFIXES:
        if name.lower().endswith(suffix) and len(name) > len(suffix):
            return name[: -len(suffix)], suffix
    return name.partition(".")[0], ""


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    if not folder.is_dir():
        return []
    with os.scandir(folder) as found:
        return sorted((entry for entry in found if not entry.name.startswith(".")), key=lambda entry: entry.name)


def _is_folder(entry: os.DirEntry[str]) -> bool:
    """Return whether an entry is a folder; a link in a circle is none."""
    try:
        return entry.is_dir()
    except OSError:
        return False


def night_of(name: str) -> dt.date | None:
    """Return the night a folder is named for; None where its name is no ISO date."""
    try:
        night = dt.date.fromisoformat(name)
    except ValueError:
        return None
    return night if night.isoformat() == name else None


def _scan(landing: Path, night: dt.date | None) -> Iterator[ExportFile | str]:
    """Yield every export, and a warning for everything that is none."""
    for folder in _entries(landing / "shots"):
        day = night_of(folder.name)
        if day is None or not _is_folder(folder):
            yield f"shots/{in_words(folder.name)} is not a night's folder: name it by its date, such as 2024-02-19"
            continue
        if night is not None and day != night:
            continue
        try:
            entries = _entries(Path(folder.path))
        except OSError as fault:
            yield f"shots/{folder.name} cannot be read ({fault.strerror}): check its rights"
            continue
        for entry in entries:
            shown = in_words(entry.name)
            if shown != entry.name:
                yield f"shots/{folder.name}/{shown} has a name that is no text and is left alone: name it by its bay"
            elif entry.name.endswith(SET_ASIDE):
                yield f"shots/{folder.name}/{entry.name} looks half written and is left alone until it is renamed"
            elif _is_folder(entry):
                yield f"shots/{folder.name}/{entry.name} is a folder, not an export"
            else:
                bay_id, suffix = split_name(entry.name)
                try:
                    stat = entry.stat()
                except OSError:
                    stat = entry.stat(follow_symlinks=False)
                yield ExportFile(
                    f"{folder.name}/{entry.name}", day, bay_id, suffix, stat.st_size, stat.st_mtime_ns
                )  # fmt: skip


def present(landing: Path, night: dt.date | None = None) -> Arrivals:
    """Return every export in the landing folder (of one night, if given) as if none had been read before."""
    arrivals = Arrivals()
    for found in _scan(landing, night):
        if isinstance(found, str):
            arrivals.warnings.append(found)
        else:
            arrivals.files.append(found)
    return arrivals


def bay_readings(con: duckdb.DuckDBPyConnection, landing: Path) -> dict[str, BayReading]:
    """Return how each bay of raw.bay is read; every profile is read once."""
    rows = con.execute(
        "select b.bay_id, b.export_profile, s.timezone from raw.bay as b join raw.site as s using (site_id)"
    ).fetchall()
    return _readings(rows, landing)


def bay_readings_landed(landing: Path) -> dict[str, BayReading]:
    """Return how each bay is to be read by the tables as they lie in the landing folder, loaded yet or not."""
    sites, bays = (read_csv.read(landing / "academy" / read_csv.file_name(t), t).rows for t in (SITE, BAY))
    zones = {row["site_id"]: row["timezone"] for row in sites}
    return _readings(
        [(row["bay_id"], row["export_profile"], zones[row["site_id"]]) for row in bays if row["site_id"] in zones],
        landing,
    )


def _readings(rows: list[tuple[str, str, str]], landing: Path) -> dict[str, BayReading]:
    read: dict[str, tuple[profiles.Profile | None, str | None]] = {}
    for name in {row[1] for row in rows}:
        path = landing / "profiles" / f"{name}.toml"
        wrong = misplaced(path, landing)
        if wrong or in_words(name) != name or "/" in name:
            read[name] = (None, f"profiles/{in_words(name, 200)}.toml {wrong or 'is no file in profiles'}")
            continue
        try:
            read[name] = (profiles.read(path), None)
        except profiles.ProfileError as fault:
            read[name] = (None, str(fault))
    return {bay: BayReading(name, zone, *read[name]) for bay, name, zone in rows}


def content_hash(path: Path) -> str:
    """Return the SHA-256 of a file's bytes."""
    digest = sha256()
    with path.open("rb") as file:
        while piece := file.read(SLICE):
            digest.update(piece)
    return digest.hexdigest()


def changed(
    con: duckdb.DuckDBPyConnection,
    landing: Path,
    night: dt.date | None = None,
    *,
    limits: Limits | None = None,
    nights: NightRange = EVERY_NIGHT,
) -> Arrivals:
    """Return the exports that must be read: new, changed, or read by other settings than today's.

    Parameters
    ----------
    con
        Connection in which `raw` holds the export tables. Nothing is written. Bays and sites are taken from the
        landing folder, so that a bay just added counts before the reference tables are loaded.
    landing
        The landing folder.
    night
        Only this night's folder.
    limits
        What an export may ask of the machine; refused files are tried again where it changed.
    nights
        The nights whose exports are read; a file of another night is refused, and read once its night has come.
    """
    seen, readings, limits = present(landing, night), bay_readings_landed(landing), limits or Limits()
    known = {
        row[0]: row[1:]
        for row in con.execute(
            "select path, size_bytes, modified_ns, content_hash, settings_hash, status from raw.export_file "
            "where latest and ($1 is null or night = $1)",
            [night],
        ).fetchall()
    }
    arrivals = Arrivals(warnings=seen.warnings, nights=nights)
    for file in seen.files:
        size, modified, content, read_by, status = known.pop(file.path, (None,) * 5)
        by = settings_hash(readings.get(file.bay_id), limits, status == "refused", file.night in nights)
        if size is None or read_by != by:
            arrivals.files.append(file)
        elif (size, modified) != (file.size_bytes, file.modified_ns):
            # A refused file that was not opened has no hash: it is looked at again, not read here.
            path = landing / "shots" / file.path
            same = size == file.size_bytes and bool(content) and content == hash_or_none(path)
            (arrivals.restated if same else arrivals.files).append(file)
    arrivals.removed = sorted(known)
    arrivals.warnings += [
        f"shots/{path} is no longer in the landing folder; what was loaded from it stays" for path in arrivals.removed
    ]
    return arrivals


def hash_or_none(path: Path) -> str | None:
    """Return the hash of a file's bytes; None where it cannot be read."""
    try:
        return content_hash(path)
    except OSError:
        return None
