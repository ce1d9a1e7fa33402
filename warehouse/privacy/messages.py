"""What a home's runs say in words, as it may be kept and sent: in logs, alerts, Dagster's events, and to the pages.

Not here: what of a text is shown (values.py), who is known by name (people.py).
"""

from __future__ import annotations

import csv
from functools import lru_cache
from pathlib import Path
from typing import Any

from warehouse.home import Home
from warehouse.privacy import values
from warehouse.privacy.masking import KEY_FILE
from warehouse.privacy.people import people_of


def shown(home: Home, said: Any) -> Any:
    """Return what is said with names withheld in every text of it, however deep."""
    names = people_of(home).names
    if isinstance(said, str):
        return values.shown_message(said, names, _key(home), _bays(home))
    if isinstance(said, dict):
        return {shown(home, key): shown(home, held) for key, held in said.items()}
    if isinstance(said, list | tuple):
        return [shown(home, held) for held in said]
    return said


def _key(home: Home) -> bytes:
    try:
        return (home.private / KEY_FILE).read_bytes().strip()
    except OSError:
        return b""


def _bays(home: Home) -> frozenset[str]:
    path = home.landing / "academy" / "bays.csv"
    try:
        return _bays_of(str(path), path.stat().st_mtime_ns)
    except OSError:
        return frozenset()


@lru_cache(maxsize=4)
def _bays_of(path: str, _changed: int) -> frozenset[str]:
    try:
        with Path(path).open(encoding="utf-8-sig", errors="replace", newline="") as file:
            return frozenset((row.get("bay_id") or "").strip() for row in csv.DictReader(file))
    except (OSError, csv.Error):
        return frozenset()
