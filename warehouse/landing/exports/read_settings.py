"""By which settings a file is read: its bay's profile or, of the inbox, its folder's. Not here: reading it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from warehouse.landing.cells.read import Context
from warehouse.landing.exports.decisions import Decisions
from warehouse.landing.profile.bay_profiles import BayReading, read_profile, settings_hash
from warehouse.settings.clock import NightRange
from warehouse.settings.settings import Limits

if TYPE_CHECKING:
    from warehouse.landing.exports.discover import ExportFile


def reading_of(file: ExportFile, readings: Mapping[str, BayReading], landing: Path) -> BayReading | None:
    """Return how a file is read: by its bay's profile, or, of the inbox, by that of the folder it lay in."""
    bay = readings.get(file.bay_id)
    if bay is None or file.export_profile is None:
        return bay
    same = bay if bay.export_profile == file.export_profile else next(
        (one for one in readings.values() if one.export_profile == file.export_profile), None
    )  # fmt: skip
    profile, fault = (same.profile, same.fault) if same else read_profile(file.export_profile, landing)
    return BayReading(file.export_profile, bay.timezone, profile, fault)


def settings_of(
    file: ExportFile,
    readings: Mapping[str, BayReading],
    landing: Path,
    limits: Limits,
    refused: bool,
    night_read: bool = True,
    decided: str = "",
) -> str:
    """Return a hash of the settings by which a file is read, and of why it is refused without being looked at.

    `decided` is what the book of decisions says of its content; empty for most.
    """
    told = settings_hash(reading_of(file, readings, landing), limits, refused, night_read)
    beside = (file.fault or "") + (f"|{decided}" if decided else "")
    return told if not beside else sha256((told + beside).encode()).hexdigest()[:16]


@dataclass(frozen=True)
class ReadSettings:
    """How the files of one load are read, and a hash of it for each."""

    readings: dict[str, BayReading]
    context: Context
    landing: Path
    nights: NightRange
    book: Decisions

    def hashed(self, file: ExportFile, content: str, *, refused: bool) -> str:
        """Return the hash for a file that is read, or refused, and for what was decided of its content."""
        night_read, decided = file.night in self.nights or not refused, self.book.word(file.path, content)
        return settings_of(file, self.readings, self.landing, self.context.limits, refused, night_read, decided)
