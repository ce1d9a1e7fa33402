"""What a home already knows and samples are held against: bays, people, lessons, zones. Empty without one."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from warehouse.landing.onboarding.duplicate_people import normal_name
from warehouse.landing.reference import read_csv
from warehouse.schema.declaration import Table
from warehouse.schema.raw import BAY, LESSON, SITE, STUDENT

FAR_BETTER, LEAST_SHARE = 1.3, 0.3


@dataclass
class HomeFacts:
    """Rows of the home's tables that matter for exports."""

    sites: list[dict[str, Any]] = field(default_factory=list)
    bays: list[dict[str, Any]] = field(default_factory=list)
    students: list[dict[str, Any]] = field(default_factory=list)
    lessons: list[dict[str, Any]] = field(default_factory=list)

    @property
    def student_ids(self) -> frozenset[str]:
        """Return the ids of students."""
        return frozenset(row["student_id"] for row in self.students)

    @property
    def student_names(self) -> frozenset[str]:
        """Return the names of students, without accents, case and order."""
        return frozenset(normal_name(row["name"]) for row in self.students)

    @property
    def bay_ids(self) -> tuple[str, ...]:
        """Return the ids of bays."""
        return tuple(row["bay_id"] for row in self.bays)

    @property
    def zones(self) -> tuple[str, ...]:
        """Return the zones of the sites."""
        return tuple(dict.fromkeys(row["timezone"] for row in self.sites))

    def altitude(self) -> float | None:
        """Return the sites' altitude where they agree within 200 m."""
        heights = [row["altitude_m"] for row in self.sites]
        return sum(heights) / len(heights) if heights and max(heights) - min(heights) < 200 else None

    def zone_by_lessons(self, moments: Sequence[dt.datetime]) -> tuple[str, str] | None:
        """Return (zone, why) where far more shots lie in lessons by one zone than by another; None where none does."""
        if not self.lessons or not moments or len(self.zones) != 1:
            return None
        site, days = ZoneInfo(self.zones[0]), {moment.date() for moment in moments}
        lessons = [row for row in self.lessons if any(abs((row["starts_at"].date() - day).days) <= 1 for day in days)]
        readings = {
            "site": list(moments),
            "UTC": [m.replace(tzinfo=dt.UTC).astimezone(site).replace(tzinfo=None) for m in moments],
        }
        if readings["site"] == readings["UTC"]:
            return None
        inside = {
            zone: sum(any(row["starts_at"] <= m < row["ends_at"] for row in lessons) for m in said) / len(moments)
            for zone, said in readings.items()
        }
        best, other = sorted(inside, key=lambda zone: -inside[zone])
        if inside[best] < LEAST_SHARE or inside[best] < FAR_BETTER * inside[other]:
            return None
        return best, f"{inside[best]:.0%} of the shots then lie in lessons, and {inside[other]:.0%} by {other} time"


def read_home(home: Path | None) -> HomeFacts:
    """Return what a home's tables say; nothing of tables that are not there or cannot be read."""
    if home is None:
        return HomeFacts()

    def rows(table: Table) -> list[dict[str, Any]]:
        path = home / "landing" / "academy" / read_csv.file_name(table)
        return read_csv.read(path, table).rows if path.exists() else []

    return HomeFacts(rows(SITE), rows(BAY), rows(STUDENT), rows(LESSON))
