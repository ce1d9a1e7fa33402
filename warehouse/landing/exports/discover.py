"""Which exports lie in the landing folder, and which of them changed since they were last read.

Cheap first: size and time of change; the content's hash only where those differ. Not here: reading them (load.py).
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import duckdb

from warehouse.landing.exports import decisions
from warehouse.landing.exports.decisions import Decisions
from warehouse.landing.exports.file_names import BayNames, bay_names, split_name
from warehouse.landing.exports.read_settings import settings_of
from warehouse.landing.inbox import store, unpack
from warehouse.landing.path_safety import in_words
from warehouse.landing.profile.bay_profiles import (
    BayReading,
    bay_readings,
    bay_readings_landed,
    hash_or_none,
    settings_hash,
)
from warehouse.settings.clock import EVERY_NIGHT, NightRange
from warehouse.settings.settings import Limits

__all__ = [
    "Arrivals", "BayReading", "ExportFile", "bay_readings", "bay_readings_landed", "changed", "hash_or_none",
    "night_of", "present", "settings_hash", "split_name",
]  # fmt: skip

BESIDE = "|beside "
"""Stands in a refused file's settings hash before the path and content in force because of which it was refused: gone
with that, the file is read again."""


@dataclass(frozen=True)
class ExportFile:
    """One export in the landing folder, or one night and bay of a file in the inbox.

    Attributes
    ----------
    path
        Under landing/shots, with forward slashes; of the inbox NIGHT/BAY/inbox/PROFILE/SIGN, which is no file there.
    piece
        Of the inbox: the table that was cut from the original, under the store.
    original, shown
        Of the inbox: the file it is from, under the landing folder, and as it may be told.
    export_profile
        By which profile it is read; None: by its bay's.
    fault
        Why it is refused without being looked at.
    """

    path: str
    night: dt.date
    bay_id: str
    suffix: str
    size_bytes: int
    modified_ns: int
    piece: str | None = None
    original: str | None = None
    shown: str | None = None
    export_profile: str | None = None
    fault: str | None = None
    passed_over: int = 0

    def location(self, landing: Path) -> Path:
        """Return the file that is to be read."""
        if self.original is None:
            return landing / "shots" / self.path
        return store.folder_of(landing) / self.piece if self.piece else landing / self.original


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
    withdrawn
        Paths of which what is in force was taken back: it goes out.
    warnings
        What lies in landing/shots and is no export, in words.
    nights
        The nights whose exports are read; files of others are among `files`, to be refused.
    """

    files: list[ExportFile] = field(default_factory=list)
    restated: list[ExportFile] = field(default_factory=list)
    removed: list[str] = field(default_factory=list)
    withdrawn: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    nights: NightRange = EVERY_NIGHT

    def __iter__(self) -> Iterator[ExportFile]:
        """Iterate over the files to be read."""
        return iter(self.files)

    def __len__(self) -> int:
        """Return how many files are to be read."""
        return len(self.files)

    def of_nights(self, nights: Collection[dt.date]) -> Arrivals:
        """Return what is to be read of these nights, and what is of a night that is not read.

        What was removed or taken back, and warnings, are of all nights.
        """
        return replace(
            self,
            files=[file for file in self.files if file.night in nights or file.night not in self.nights],
            restated=[file for file in self.restated if file.night in nights],
        )


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


def _scan(landing: Path, night: dt.date | None, names: BayNames) -> Iterator[ExportFile | str]:
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
            elif entry.name.endswith(unpack.SET_ASIDE):
                yield f"shots/{folder.name}/{entry.name} looks half written and is left alone until it is renamed"
            elif _is_folder(entry):
                yield f"shots/{folder.name}/{entry.name} is a folder, not an export"
            else:
                stem, suffix = split_name(entry.name)
                try:
                    stat = entry.stat()
                except OSError:
                    stat = entry.stat(follow_symlinks=False)
                yield ExportFile(
                    f"{folder.name}/{entry.name}", day, names.bay_of(stem), suffix, stat.st_size, stat.st_mtime_ns
                )  # fmt: skip


def present(landing: Path, night: dt.date | None = None, names: BayNames | None = None) -> Arrivals:
    """Return every export in the landing folder (of one night, if given) as if none had been read before."""
    arrivals = Arrivals()
    for found in _scan(landing, night, names or bay_names(landing)):
        if isinstance(found, str):
            arrivals.warnings.append(found)
        else:
            arrivals.files.append(found)
    arrivals.files += from_inbox(landing, night)
    return arrivals


def from_inbox(landing: Path, night: dt.date | None = None) -> list[ExportFile]:
    """Return the nights and bays of the files that lie in the inbox, as last cut, and the files that could not be."""
    folder = store.folder_of(landing)
    known = {path: one for path, one in store.originals(folder).items() if (landing / "inbox" / path).exists()}
    found = []
    for piece in store.pieces(folder, night):
        file = folder / piece.file
        if piece.path in known and file.exists():
            stat = file.stat()
            found.append(_of_inbox(known[piece.path], piece, stat.st_size, stat.st_mtime_ns))
    for one in known.values():
        if one.fault is not None and one.night is not None and night in (None, one.night):
            whole = store.Piece(one.path, one.night, one.bay_id, "", "", one.fault)
            found.append(_of_inbox(one, whole, one.size, one.modified))
    return found


def _of_inbox(original: store.Original, piece: store.Piece, size: int, modified: int) -> ExportFile:
    told = f"{piece.night}/{piece.bay_id if piece.file else unpack.WHOLE}/inbox/{original.sign}"
    return ExportFile(
        told, piece.night, piece.bay_id, split_name(original.path)[1], size, modified, piece.file or None,
        f"inbox/{original.path}", original.shown, original.path.split("/")[0], piece.fault, piece.passed_over,
    )  # fmt: skip


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

    Raises
    ------
    decisions.DecisionFault
        The book of decisions cannot be read.
    """
    limits, book = limits or Limits(), decisions.read(landing)
    unpacked = unpack.unpack(landing, limits)
    seen, readings = present(landing, night, bay_names(landing, con)), bay_readings_landed(landing)
    known = {
        row[0]: row[1:]
        for row in con.execute(
            "select path, size_bytes, modified_ns, content_hash, settings_hash, status from raw.export_file "
            "where latest and ($1 is null or night = $1)",
            [night],
        ).fetchall()
    }
    in_force = dict(con.execute("select path, content_hash from raw.export_file where in_force").fetchall())
    arrivals = Arrivals(warnings=seen.warnings + unpacked.warnings, nights=nights)
    for file in seen.files:
        size, modified, content, read_by, status = known.pop(file.path, (None, None, "", "", ""))
        by, decided = read_by.partition(BESIDE)[0], book.word(file.path, content)
        now = settings_of(file, readings, landing, limits, status == "refused", file.night in nights, decided)
        if size is None or by != now or _stood_beside(read_by, in_force):
            arrivals.files.append(file)
        elif (size, modified) != (file.size_bytes, file.modified_ns):
            # A refused file that was not opened has no hash: it is looked at again, not read here.
            path = file.location(landing)
            same = size == file.size_bytes and bool(content) and content == hash_or_none(path)
            (arrivals.restated if same else arrivals.files).append(file)
    gone = {store.sign_of(path) for path in unpacked.gone}
    arrivals.removed = sorted(path for path in known if path.partition("/inbox/")[2] not in gone)
    arrivals.withdrawn = withdrawn(book, in_force)
    return arrivals


def _stood_beside(read_by: str, in_force: dict[str, str]) -> bool:
    """Return whether a file was refused because of another content in force that is no longer there."""
    path, _, content = read_by.partition(BESIDE)[2].rpartition(" ")
    return path != "" and in_force.get(path) != content


def withdrawn(book: Decisions, in_force: dict[str, str]) -> list[str]:
    """Return the paths of which what is in force was taken back."""
    return sorted(path for path in in_force if book.word(path, in_force[path]) == decisions.WITHDRAW)
