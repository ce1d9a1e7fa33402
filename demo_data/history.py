"""A long, plain history for measuring speed: millions of shots in one simple format, with lessons and a drill log.

No mess and no selection: it shows how long a night takes, not whether its answers are right.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from pathlib import Path

import numpy as np
import polars as pl

from demo_data.academy import CLUBS, DRIVER, IRON_7, LATENT, LOFT, SPEED, stream
from demo_data.ball import SEA_LEVEL, strike, within_device_range
from demo_data.drills import DRILLS
from demo_data.names import invent
from demo_data.students import CLUB_LOFT, CLUB_SPEED_SHARE, SHOT_CORRELATION

FILE_SHOTS, SESSION_SHOTS, LAST_NIGHT_FILES = 2500, 61, 40
PRE, DRILL_END = 18, 33
OPENING, OPEN_SECONDS = 5 * 3600, 62_000
LAST_NIGHT = date(2026, 6, 30)
SHOT_SD = np.array([1.6, 2.1, 2.1, 1.5, 0.9, 9.0, 6.5])
STUDENTS_A_BAY = 60
BAYS_A_SITE = 40
PROFILE = """name = "long"

[file]
format = "csv"
delimiter = ","
timestamp_format = "%Y-%m-%d %H:%M:%S"
timezone = "UTC"

[columns]
struck_at = { from = "struck" }
student_id = { from = "who", optional = true }
club = { from = "club" }
"""
UNITS = {"speed": "m/s", "rate": "rpm", "carry": "m", "lateral": "m", "toe": "mm", "high": "mm"}


def _nights(shots: int, bays: int, last_night_shots: int) -> list[np.ndarray]:
    """Return rows a file for every night, oldest first; the last night's sum is exactly what was asked for."""
    earlier, full = shots - last_night_shots, bays * FILE_SHOTS
    totals = [full] * (earlier // full) + ([earlier % full] if earlier % full else [])
    nights = [np.full(bays, total // bays) + (np.arange(bays) < total % bays) for total in totals]
    files = min(LAST_NIGHT_FILES, bays)
    last = np.full(files, last_night_shots // files) + (np.arange(files) < last_night_shots % files)
    return [*nights, last]


class _People:
    """Students of the history: levels, club, response; all drawn once."""

    def __init__(self, bays: int, draws: np.random.Generator) -> None:
        count = bays * STUDENTS_A_BAY
        self.ids = np.array([f"{n:06d}" for n in range(1, count + 1)])
        self.club = draws.choice([DRIVER, IRON_7], count, p=[0.6, 0.4])
        iron = (self.club == IRON_7)[:, None]
        mean = np.where(iron, np.array([-3.8, -0.8, 0.5, 0, 40, 1, -1]), np.array([-0.8, -0.8, 0.5, 0, 40, 1, -1]))
        root = np.linalg.cholesky(SHOT_CORRELATION).T
        self.level = mean + (draws.normal(size=(count, len(LATENT))) @ root) * np.array([2, 2.2, 2, 1.5, 4, 5, 4])
        self.level[:, SPEED] *= CLUB_SPEED_SHARE[self.club]
        self.level[:, LOFT] += CLUB_LOFT[self.club]


def _session_shifts(student: np.ndarray, drill: np.ndarray, people: _People) -> np.ndarray:
    """Return (sessions, latent): what each session's drill leaves; zero without one."""
    shift = np.zeros((student.size, len(LATENT)))
    for number, one in enumerate(DRILLS):
        mine = drill == number
        for metric, mean in one.shift.items():
            column = LATENT.index(metric)
            toward = one.aim_direction == "toward" and metric == one.aim_metric
            side = -np.sign(people.level[student[mine], column] - (one.aim_target or 0.0)) if toward else 1.0
            shift[mine, column] = mean * side
    return shift


def _drills_for(club: np.ndarray, draws: np.random.Generator) -> np.ndarray:
    """Return a drill number for half of the sessions, fitting the club; -1 for the rest."""
    fits = {c: [n for n, d in enumerate(DRILLS) if d.club_group in (CLUBS[c][1], "any")] for c in (DRIVER, IRON_7)}
    drill = np.where(club == DRIVER, draws.choice(fits[DRIVER], club.size), draws.choice(fits[IRON_7], club.size))
    return np.where(draws.random(club.size) < 0.5, drill, -1)


def _night(rows: np.ndarray, people: _People, draws: np.random.Generator) -> tuple[dict, dict, dict]:
    """Return one night as arrays: shots, sessions, and per shot what is measured."""
    file_of = np.repeat(np.arange(rows.size), rows)
    place = np.arange(file_of.size) - np.repeat(np.cumsum(rows) - rows, rows)
    parties = -(-rows // SESSION_SHOTS)
    offset = np.cumsum(parties) - parties
    session = offset[file_of] + place // SESSION_SHOTS
    order = place % SESSION_SHOTS
    count = int(parties.sum())
    student = draws.permutation(people.ids.size)[:count]
    drill = _drills_for(people.club[student], draws)
    root = np.linalg.cholesky(SHOT_CORRELATION).T
    form = (draws.normal(size=(count, len(LATENT))) @ root) * SHOT_SD * 0.5
    delivery = (people.level[student] + form)[session]
    delivery += (draws.normal(size=delivery.shape) @ root) * SHOT_SD
    delivery += _session_shifts(student, drill, people)[session] * (order >= PRE)[:, None]
    mishit, sea = draws.random(order.size) < 0.03, np.full(order.size, SEA_LEVEL)
    seen = within_device_range(strike(delivery, mishit, sea, np.zeros(order.size, bool), draws))
    seconds = OPENING + place * OPEN_SECONDS // rows[file_of]
    sessions = {"file": np.repeat(np.arange(rows.size), parties), "student": student, "drill": drill,
                "first": np.searchsorted(session, np.arange(count)),
                "shots": np.bincount(session, minlength=count)}  # fmt: skip
    return {"file": file_of, "session": session, "seconds": seconds}, sessions, seen


def _stamp(day: date, seconds: np.ndarray) -> np.ndarray:
    return np.datetime64(datetime.combine(day, time()), "ms") + seconds.astype("timedelta64[s]")


def _lesson_rows(day: date, number: int, shots: dict, sessions: dict, bay_ids: np.ndarray, people: _People,
                 draws: np.random.Generator) -> tuple[pl.DataFrame, pl.DataFrame]:  # fmt: skip
    """Return the night's lessons (half of them coached) and drill log."""
    begin = shots["seconds"][sessions["first"]]
    end = shots["seconds"][sessions["first"] + sessions["shots"] - 1] + 1
    ids = np.array([f"{number + n:09d}" for n in range(begin.size)])
    coach = np.where(draws.random(begin.size) < 0.5, sessions["file"] % 12 + 1, 0)
    lessons = pl.DataFrame({
        "lesson_id": ids, "student_id": people.ids[sessions["student"]],
        "coach_id": np.array(["", *(f"k{n}" for n in range(1, 13))])[coach], "bay_id": bay_ids[sessions["file"]],
        "starts_at": _stamp(day, begin), "ends_at": _stamp(day, end),
    })  # fmt: skip
    done = np.flatnonzero((sessions["drill"] >= 0) & (sessions["shots"] > DRILL_END + 5))
    down = shots["seconds"][sessions["first"][done] + PRE]
    up = shots["seconds"][sessions["first"][done] + DRILL_END]
    log = pl.DataFrame({
        "lesson_id": ids[done], "drill_id": np.array([d.drill_id for d in DRILLS])[sessions["drill"][done]],
        "starts_at": _stamp(day, down), "ends_at": _stamp(day, up),
        "chosen_by": np.where(coach[done] > 0, "coach", "student"),
    })  # fmt: skip
    return lessons, log


def _reference(landing: Path, bay_ids: np.ndarray, people: _People, draws: np.random.Generator) -> None:
    sites = [f"s{n}" for n in range(1, -(-bay_ids.size // BAYS_A_SITE) + 1)]
    count, folder = people.ids.size, landing / "academy"
    folder.mkdir(parents=True, exist_ok=True)
    (landing / "profiles").mkdir(exist_ok=True)
    unit = {name: next((u for end, u in UNITS.items() if name.endswith(end)), "deg") for name in MEASURED_NAMES}
    columns = "".join(f'{name} = {{ from = "{name}", unit = "{unit[name]}" }}\n' for name in MEASURED_NAMES)
    (landing / "profiles" / "long.toml").write_text(PROFILE + columns, encoding="utf-8")
    pl.DataFrame({"site_id": sites, "name": sites, "timezone": ["UTC"] * len(sites),
                  "altitude_m": [10] * len(sites)}).write_csv(folder / "sites.csv")  # fmt: skip
    at = np.array(sites)[np.arange(bay_ids.size) // BAYS_A_SITE]
    pl.DataFrame({"bay_id": bay_ids, "site_id": at, "export_profile": "long", "setting": "indoor",
                  "ball": "premium"}).write_csv(folder / "bays.csv")  # fmt: skip
    pl.DataFrame({"coach_id": [f"k{n}" for n in range(1, 13)], "name": invent(12, draws)}).write_csv(
        folder / "coaches.csv")  # fmt: skip
    pl.DataFrame({"student_id": people.ids, "name": [f"Student {s}" for s in people.ids],
                  "handed": np.where(np.arange(count) % 10 == 3, "left", "right"), "handicap": None,
                  "joined_on": "2024-01-01", "cohort": np.where(np.arange(count) % 2, "one", "two"), "born_on": None,
                  "consent": "yes", "consent_evidence": None}).write_csv(folder / "students.csv")  # fmt: skip
    pl.DataFrame([(d.drill_id, d.name, d.aim_metric or None, d.aim_direction or None, d.aim_target, d.club_group,
                   d.setup, d.caution or None) for d in DRILLS], orient="row", infer_schema_length=None,
                 schema=["drill_id", "name", "aim_metric", "aim_direction", "aim_target", "club_group", "setup",
                         "caution"]).write_csv(folder / "drills.csv")  # fmt: skip


MEASURED_NAMES = (
    "club_speed", "attack_angle", "club_path", "face_angle", "dynamic_loft", "ball_speed", "launch_angle",
    "launch_direction", "spin_rate", "spin_axis", "carry", "lateral", "impact_toe", "impact_high",
)  # fmt: skip


def _write_night(folder: Path, day: date, shots: dict, seen: dict, sessions: dict, rows: np.ndarray,
                 bay_ids: np.ndarray, people: _People) -> None:  # fmt: skip
    student = sessions["student"][shots["session"]]
    turn = np.where(student % 10 == 3, -1.0, 1.0)
    for metric in ("club_path", "face_angle", "launch_direction", "spin_axis", "lateral"):
        seen[metric] = seen[metric] * turn
    frame = pl.DataFrame({
        "struck": pl.Series(_stamp(day, shots["seconds"])).dt.to_string("%Y-%m-%d %H:%M:%S"),
        "who": people.ids[student], "club": np.array([c for c, _ in CLUBS])[people.club[student]],
        **{name: seen[name] for name in MEASURED_NAMES},
    })  # fmt: skip
    folder.mkdir(parents=True, exist_ok=True)
    for n, begin in enumerate(np.cumsum(rows) - rows):
        frame.slice(int(begin), int(rows[n])).write_csv(folder / f"{bay_ids[n]}.csv", float_precision=2)


def write_history(landing: Path, *, shots: int, bays: int, last_night_shots: int, seed: int = 1,
                  progress: Callable[[str, int, int], None] | None = None) -> int:  # fmt: skip
    """Write a landing folder of exactly `shots` rows, about 2,500 a file, the last night in (up to) 40 files.

    Parameters
    ----------
    landing : Path
        Folder to write into.
    shots, bays, last_night_shots : int
        Rows in all, bays that report each night, rows of the last night (30 June 2026).
    seed : int
        The same seed gives the same files.
    progress : callable, optional
        Called with (step, done, total) before each night.

    Returns
    -------
    int
        How many nights were written.
    """
    if not 0 < last_night_shots <= shots:
        raise ValueError("the last night must hold between one shot and all of them")
    landing, draws = Path(landing), stream(seed, "history")
    people, bay_ids = _People(bays, draws), np.array([f"b{n:03d}" for n in range(1, bays + 1)])
    _reference(landing, bay_ids, people, draws)
    nights, lessons, logs, number = _nights(shots, bays, last_night_shots), [], [], 1
    for n, rows in enumerate(nights):
        if progress:
            progress("nights", n, len(nights))
        day = LAST_NIGHT - timedelta(days=len(nights) - 1 - n)
        night, sessions, seen = _night(rows, people, draws)
        _write_night(landing / "shots" / day.isoformat(), day, night, seen, sessions, rows, bay_ids, people)
        booked, log = _lesson_rows(day, number, night, sessions, bay_ids, people, draws)
        number += booked.height
        lessons.append(booked)
        logs.append(log)
    for name, tables in (("lessons", lessons), ("drill_log", logs)):
        whole = pl.concat(tables).with_columns(pl.col(pl.String).replace("", None))
        whole.write_csv(landing / "academy" / f"{name}.csv", datetime_format="%Y-%m-%dT%H:%M:%S")
    return len(nights)
