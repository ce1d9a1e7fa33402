"""What a profile makes of files, in one summary: rows, names that nobody knows, spans of numbers, what cannot be.

Not here: trying the files (try_profile.py), nor how the summary is shown.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

import numpy as np
import polars as pl

from warehouse.domain.flight import fly
from warehouse.landing.cells.people import Students
from warehouse.landing.exports.try_profile import Trial
from warehouse.schema.metrics import CLUBS, M_PER_YD, MEASURED, METRIC, MS_PER_MPH

EARLIEST = dt.datetime(2000, 1, 1)
"""No launch monitor's log is older; clocks that were never set say 1970, workbooks 1900."""
OPEN_FROM = 5
"""Local hour before which no bay is open (common practice, no source)."""
MOST_NAMES = 12
UNITS = {"imperial": {"m/s": ("mph", MS_PER_MPH), "m": ("yd", M_PER_YD)}, "metric": {"m/s": ("km/h", 1 / 3.6)}}
"""Reader's system -> canonical unit -> (shown unit, how many canonical units one of it is)."""
PLAUSIBLE = {"smash factor": (1.0, 1.55), "carry over the flight model's": (0.7, 1.35)}
"""Ratio -> between what its middle must lie for speeds and lengths to be in their units; common practice, no source."""
MOST_FLOWN = 400


@dataclass(frozen=True)
class UnknownName:
    """A club, player or bay that nothing knows: how often it stands there, and the nearest spelling that is known."""

    kind: str
    name: str
    count: int
    nearest: str | None


@dataclass(frozen=True)
class Span:
    """One number over all rows that would load, in the reader's unit."""

    name: str
    unit: str
    least: float
    median: float
    greatest: float
    rows: int


@dataclass
class Summary:
    """All files in one.

    Attributes
    ----------
    read, loaded, duplicates
        Rows; those with times that cannot be do not count as loaded.
    lost
        Why rows would not load, with counts.
    refused
        Files that would be refused whole, each with its reason.
    wrong
        What shows that the profile is mistaken: middles outside anything golfers do.
    """

    read: int = 0
    loaded: int = 0
    duplicates: int = 0
    lost: Counter[str] = field(default_factory=Counter)
    refused: list[str] = field(default_factory=list)
    unknown: list[UnknownName] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    times: str = ""
    plausible: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    @property
    def outcome(self) -> int:
        """Return the exit code: 0 all rows load, 3 some are lost, 2 none or wrong."""
        if not self.loaded or self.wrong:
            return 2
        return 3 if self.lost or self.refused else 0


def summarise(
    trial: Trial, *, students: Students | None = None, bays: Sequence[str] = (), bay_map: Iterable[str] = (),
    system: str = "imperial", now: dt.datetime | None = None,
) -> Summary:  # fmt: skip
    """Return the summary of a trial.

    Parameters
    ----------
    trial
        Files tried by a profile that can be used.
    students, bays
        Whom and which the academy knows; nobody is called unknown where it knows none.
    bay_map
        Names that the profile's map knows.
    system
        The reader's units: imperial or metric.
    now
        Local time at the site, for times that have not come.
    """
    done, rows = Summary(), []
    names: dict[str, Counter[str]] = {"club": Counter(), "player": Counter(), "bay": Counter()}
    for file in trial.files:
        if file.refused:
            done.refused.append(f"{file.path.name}: {file.refused}")
            continue
        done.read += file.rows.read
        done.duplicates += file.rows.duplicate
        done.warnings += [f"{file.path.name}: {warning}" for warning in file.warnings]
        names["player"] += file.players
        names["bay"] += file.bays
        if file.loaded is not None and file.loaded.height:
            rows.append(file.loaded)
        for fault in file.faults.rows(named=True) if file.faults is not None else ():
            done.lost[_reason(fault)] += 1
            if fault["reason"] == "unknown club":
                names["club"][fault["value"] or ""] += 1
    shots = pl.concat(rows, how="diagonal_relaxed") if rows else pl.DataFrame()
    shots = _hold_times(done, shots, now or dt.datetime.now())
    done.loaded = shots.height
    _name_unknown(done, names, students, bays, set(bay_map))
    if shots.height:
        done.spans = _spans(shots, system)
        _judge(done, shots)
    done.warnings = list(dict.fromkeys(done.warnings))
    return done


def _reason(fault: dict[str, object]) -> str:
    column = fault["column_name"]
    return f"{fault['reason']}{f', {column}' if column and column != 'club' else ''}"


def _hold_times(done: Summary, shots: pl.DataFrame, now: dt.datetime) -> pl.DataFrame:
    """Return the shots whose times can be; the others are lost, and hours in which no bay is open are told."""
    if not shots.height:
        return shots
    local = shots["struck_at_local"]
    early, late = (local < EARLIEST).fill_null(False), (local > now + dt.timedelta(days=1)).fill_null(False)
    for which, words in ((early, f"before {EARLIEST.year}"), (late, "in the future")):
        if which.any():
            example = local.filter(which)[0]
            done.lost[f"a time {words}, such as {example:%Y-%m-%d %H:%M}: is timestamp_format right?"] += int(
                which.sum()
            )
    kept = shots.filter(~early & ~late)
    if kept.height:
        local = kept["struck_at_local"]
        done.times = (
            f"{local.min():%Y-%m-%d %H:%M} to {local.max():%Y-%m-%d %H:%M}, on {local.dt.date().n_unique()} days"  # type: ignore[union-attr]
        )
        closed = int((local.dt.hour() < OPEN_FROM).sum())
        if closed:
            done.warnings.append(
                f"{closed} shots lie between midnight and {OPEN_FROM}: is the profile's timezone right?"
            )
    return kept


def _name_unknown(
    done: Summary, names: dict[str, Counter[str]], students: Students | None, bays: Sequence[str], bay_map: set[str]
) -> None:
    known_people = {*students.ids, *(name for name, _ in students.by_name)} if students else set()

    def add(kind: str, name: str, count: int, known: Iterable[str]) -> None:
        near = get_close_matches(name.casefold(), {one.casefold(): one for one in known}, 1, 0.55)
        spelled = {one.casefold(): one for one in known}
        done.unknown.append(UnknownName(kind, name, count, spelled[near[0]] if near else None))

    for name, count in names["club"].most_common(MOST_NAMES):
        add("club", name, count, CLUBS)
    for name, count in names["player"].most_common() if known_people else ():
        if students and name not in students.ids and students.find(name, "either") not in students.ids:
            add("player", name, count, known_people)
    for name, count in names["bay"].most_common() if bays else ():
        if name not in bays and name not in bay_map:
            add("bay", name, count, bays)


def _spans(shots: pl.DataFrame, system: str) -> list[Span]:
    spans = []
    for metric in MEASURED:
        if metric.name not in shots.columns:
            continue
        values = shots[metric.name].drop_nulls()
        if values.len():
            unit, per = UNITS.get(system, {}).get(metric.unit, (metric.unit, 1.0))
            least, median, greatest = (float(value) / per for value in (values.min(), values.median(), values.max()))  # type: ignore[arg-type]
            spans.append(Span(metric.label, unit, least, median, greatest, values.len()))
    return spans


def _judge(done: Summary, shots: pl.DataFrame) -> None:
    """Hold the middles of smash factor and carry against impact and flight."""
    sample = shots.gather_every(max(1, shots.height // MOST_FLOWN))
    found: dict[str, np.ndarray] = {}
    columns = {name: sample[name].to_numpy() for name in METRIC if name in sample.columns}
    ball, club = columns["ball_speed"], columns.get("club_speed")
    with np.errstate(invalid="ignore", divide="ignore"):
        if club is not None:
            found["smash factor"] = ball / club
        carry, launch, spin = (columns.get(name) for name in ("carry", "launch_angle", "spin_rate"))
        if carry is not None and launch is not None and spin is not None:
            flown = fly(ball_speed=ball, launch_angle=launch, spin_rate=spin, engine="numpy").carry
            found["carry over the flight model's"] = np.where(flown > 20, carry / flown, np.nan)
    for name, ratios in found.items():
        known = ratios[np.isfinite(ratios)]
        if known.size < 5:
            continue
        middle, (low, high) = float(np.median(known)), PLAUSIBLE[name]
        said = f"{name}: {middle:.2f} in the middle"
        if low <= middle <= high:
            done.plausible.append(said)
        else:
            done.wrong.append(f"{said}, and {low:g} to {high:g} is what shots come to: is a unit or a column mistaken?")
