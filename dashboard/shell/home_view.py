"""The academy's home folder as the pages see it: the published file, the last run's word, the display units.

Not here: the published file's content (data.py).
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tomllib
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from dashboard.shell.outside_text import neutralise_all
from warehouse.home import Home as Place
from warehouse.publishing import manifest
from warehouse.settings import clock, settings

_broken: set[tuple[str, int, int]] = set()
SYSTEMS = ("imperial", "metric")


@dataclass(frozen=True)
class Home:
    """What a page needs to know before it reads: resolved once a run, so that one page never mixes two nights.

    Attributes
    ----------
    folder
        The home folder.
    published
        Path of the published version, resolved; None where nothing is published.
    damaged
        Whether what was published last is damaged, so that an older version, or none, is read.
    last_run
        The last run's word (`outcome`, `message`, `finished_at`, `warnings`), empty where there is none.
    system
        "imperial" or "metric".
    """

    folder: Path
    published: str | None
    last_run: dict[str, Any]
    system: str
    damaged: bool = False

    @property
    def today(self) -> date:
        """Return the date where the academy is."""
        try:
            return clock.today(settings.load(self.folder))
        except settings.SettingsFault:
            return datetime.now(UTC).date()

    @property
    def failed(self) -> bool:
        """Return whether the last run did not publish."""
        return self.last_run.get("outcome") == "not published"


def folder_from(arguments: list[str]) -> Path:
    """Return the home folder: `--home DIR`, else $ACADEMY_HOME, else ./academy_home."""
    parser = argparse.ArgumentParser(add_help=False)
    parser.add_argument("--home")
    known, _ = parser.parse_known_args(arguments)
    return Path(known.home or os.environ.get("ACADEMY_HOME") or "academy_home")


def read_home(folder: Path | None = None) -> Home:
    """Look at a home folder (the command line's, if none is given)."""
    folder = folder if folder is not None else folder_from(sys.argv[1:])
    published, damaged = version_to_read(folder)
    return Home(folder, published, last_run(folder), display_system(folder), damaged)


def version_to_read(folder: Path) -> tuple[str | None, bool]:
    """Return the published version to read, resolved, and whether newer ones are damaged.

    A version that broke while it was read is passed over from then on.
    """
    good = manifest.good_version(Place(folder.absolute()))
    path, passed_over = good.path, bool(good.damaged)
    if path is not None and state(path) in _broken:
        passed_over = True
        older = [one for one in path.parent.glob("*.duckdb") if not one.is_symlink() and state(one) not in _broken]
        older.sort(key=lambda one: one.stem.rsplit("_", 1)[-1], reverse=True)
        path = next((one for one in older if manifest.fault(Place(folder.absolute()), one) is None), None)
    return (None if path is None else str(path)), passed_over


def state(path: Path) -> tuple[str, int, int]:
    """Return what tells one content of a file from another: another file in its place is tried anew."""
    try:
        found = path.stat()
    except OSError:
        return str(path), 0, 0
    return str(path), found.st_size, found.st_mtime_ns


def pass_over(published: str) -> bool:
    """Read a version no more in this process, since it broke; return whether that is new."""
    before = len(_broken)
    _broken.add(state(Path(published)))
    return len(_broken) > before


def last_run(folder: Path) -> dict[str, Any]:
    """Return what the last run said of itself, empty if it said nothing that can be read."""
    try:
        word = json.loads((folder / "published" / "last_run.json").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return neutralise_all(word) if isinstance(word, dict) else {}


def display_system(folder: Path) -> str:
    """Return the display units set in academy.toml; imperial where nothing is set."""
    try:
        settings = tomllib.loads((folder / "academy.toml").read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return SYSTEMS[0]
    units = settings.get("units")
    system = units.get("system") if isinstance(units, dict) else None
    return system if system in SYSTEMS else SYSTEMS[0]
