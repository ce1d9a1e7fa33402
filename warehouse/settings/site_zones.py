"""The academy's time zone where academy.toml names none: that of its sites.

Of several zones the westernmost: when it is past midnight there, every site's night is over. Not here: what the sites
table must satisfy (landing/reference).
"""

from __future__ import annotations

import csv
import datetime as dt
from pathlib import Path
from zoneinfo import ZoneInfo, available_timezones

LARGEST = 1_000_000


def zones_of_sites(home: Path) -> list[str]:
    """Return the zones that sites.csv names and that are known, each once; none where it cannot be read."""
    path = home / "landing" / "academy" / "sites.csv"
    try:
        if path.stat().st_size > LARGEST:
            return []
        with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
            said = [(row.get("timezone") or "").strip() for row in csv.DictReader(file)]
    except (OSError, csv.Error):
        return []
    known = available_timezones()
    return [zone for zone in dict.fromkeys(said) if zone in known]


def westernmost(zones: list[str], at: dt.datetime | None = None) -> str | None:
    """Return the zone in which it is earliest at a moment (now), the first named of equals; None of none."""
    moment = at or dt.datetime.now(dt.UTC)
    return min(zones, key=lambda zone: moment.astimezone(ZoneInfo(zone)).utcoffset() or dt.timedelta(0), default=None)
