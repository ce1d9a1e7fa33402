"""A profile tried with what an academy's home knows: its bays' clocks, its students, its reader's units.

Not here: the trial itself (try_profile.py), the summary (trial_summary.py).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

from warehouse.landing.cells.read import Context
from warehouse.landing.exports import trial_summary, try_profile
from warehouse.landing.exports.trial_summary import Summary
from warehouse.landing.exports.try_profile import Trial
from warehouse.landing.profile import bay_profiles, profile
from warehouse.settings import settings


@dataclass(frozen=True)
class TriedAtHome:
    """A trial, its summary, and in words by which clock it was read."""

    trial: Trial
    summary: Summary
    where: str


def try_at_home(
    profile_path: Path, files: Sequence[Path], home: Path, bay: str = "", night: dt.date | None = None
) -> TriedAtHome:
    """Try a profile on files as a night of this home would.

    Parameters
    ----------
    profile_path
        The profile's file, or its name in landing/profiles.
    files
        Exports; a folder stands for the files in it.
    home
        The academy's home; it may be empty or not there.
    bay
        The bay whose site's clock counts; without it, the bays of this make.
    night
        Hold all rows to this night.

    Raises
    ------
    ValueError
        A file is not there, or the bay is none of the home's.
    """
    named = home / "landing" / "profiles" / f"{profile_path.name.removesuffix('.toml')}.toml"
    path = profile_path if profile_path.is_file() or not named.is_file() else named
    if not path.is_file():
        there = ", ".join(sorted(one.stem for one in named.parent.glob("*.toml"))) or "none"
        raise ValueError(f"there is no profile {profile_path}; {named.parent} holds: {there}")
    whole = [one for file in files for one in (sorted(file.rglob("*")) if file.is_dir() else [file])]
    if absent := [str(file) for file in whole if not file.exists()]:
        raise ValueError(f"there is no {absent[0]}")
    landing = home / "landing"
    readings = bay_profiles.bay_readings_landed(landing)
    if bay and bay not in readings:
        known = f"; bays.csv names {', '.join(sorted(readings)[:12])}" if readings else ""
        raise ValueError(f"'{bay}' is no bay of {home}{known}")
    zones = (
        [readings[bay].timezone]
        if bay
        else [one.timezone for one in readings.values() if one.export_profile == path.stem]
    )
    zones = list(dict.fromkeys(zones or [one.timezone for one in readings.values()]))
    zone = zones[0] if zones else "UTC"
    students = bay_profiles.students_landed(landing)
    context = Context(settings.load(home).limits, students, bay_profiles.converters_of(landing))
    trial = try_profile.check_exports(
        path,
        [one for one in whole if one.is_file()],
        timezone=zone,
        limits=context.limits,
        context=context,
        night=night,
    )
    where = f"times by {zone}" if zones else "times by UTC: no bay of this make is in bays.csv"
    where += f", of {len(zones)} zones the bays are in: say --bay" if len(zones) > 1 else ""
    now = dt.datetime.now(ZoneInfo(zone)).replace(tzinfo=None)
    place = None if trial.fault else profile.read(path).inbox.bay
    made = trial_summary.summarise(
        trial, students=students, bays=tuple(readings), bay_map=(place.map or {}) if place else (),
        system=settings.load(home).units.system, now=now,
    )  # fmt: skip
    return TriedAtHome(trial, made, where)
