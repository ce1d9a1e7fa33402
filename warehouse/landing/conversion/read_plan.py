"""How one group of exports is read: profile, header and where each column stands. Not here: the conversion's SQL."""

from __future__ import annotations

from dataclasses import dataclass, field

from warehouse.landing.lines import normalise_lines
from warehouse.landing.lines.header import Header, plain, positions
from warehouse.landing.profile.profile import Profile
from warehouse.schema.metrics import AIR, MEASURED

ZONE = "zone"
"""The column of a file read cell by cell that says each row's time zone."""


@dataclass(frozen=True)
class Reading:
    """How one group of exports is read: all share profile, header, delimiter and site zone."""

    profile: Profile = field(compare=False)
    shown: str
    header: Header
    delimiter: str
    types: tuple[str, ...]
    timezone: str
    cells: bool = False

    @property
    def format(self) -> str:
        """Return csv, parquet or jsonl; what was read cell by cell comes as parquet."""
        return "parquet" if self.cells else self.profile.file.format

    @property
    def clean(self) -> bool:
        """Return whether clean copies are read instead of the exports themselves."""
        return self.delimiter == normalise_lines.FIELD

    @property
    def numbers(self) -> tuple[str, ...]:
        """Return the numbers that are converted: every metric, and of the air what the profile names."""
        return (*(metric.name for metric in MEASURED), *(air.name for air in AIR if air.name in self.profile.columns))

    @property
    def mapped(self) -> dict[str, int]:
        """Return canonical name -> place of its field (from 1) for the columns that are there."""
        if self.cells:
            return {
                name: place for place, name in enumerate(self.header.names, start=1) if name in self.profile.columns
            }
        if self.format == "jsonl":
            return {name: place for place, name in enumerate(self.profile.columns, start=1)}
        header = Header(tuple(plain(name) for name in self.header.names)) if self.format == "parquet" else self.header
        return {name: place + 1 for name, place in positions(header, self.profile).items()}

    def read_from(self, name: str) -> str | None:
        """Return SQL for what was read out of a column cell by cell, or for the zone; None where there is nothing."""
        told = name if name == ZONE else f"{name}_read"
        return f"c{self.header.names.index(told) + 1}" if self.cells and told in self.header.names else None


def identifier(name: str) -> str:
    """Return a quoted SQL identifier."""
    return '"' + name.replace('"', '""') + '"'
