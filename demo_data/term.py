"""A whole term played and seen through the bays: who came, what was hit, what each bay made of it.

Not here: files (generate.py, exports.py) and their faults (faults.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np
import polars as pl

from demo_data.academy import BAYS, FIRST_DAY, SITES, Scenario, stream
from demo_data.ball import SEA_LEVEL, strike
from demo_data.bay_errors import BayErrors, draw_bay_errors, measure
from demo_data.clock import strike_seconds
from demo_data.effects import Episode, Responses, do_drills, draw_responses
from demo_data.mess import Mess, forget_ends, plan_mess
from demo_data.reference import student_ids
from demo_data.students import Students, invent_students
from demo_data.swing import Shots, hit
from demo_data.timetable import Sessions, plan
from demo_data.trials import Lots, given_by_lot


@dataclass
class Term:
    """Everything that happened, before anybody exports it."""

    scenario: Scenario
    students: Students
    sessions: Sessions
    shots: Shots
    responses: Responses
    episodes: list[Episode]
    mess: Mess
    seconds: np.ndarray
    errors: BayErrors
    seed: int


def play(scenario: Scenario, seed: int, lots: Lots | None = None) -> Term:
    """Play a whole term: who comes, what they hit, which drills are done and what those do; trials where there are
    `lots`."""
    students = invent_students(scenario, seed)
    sessions = plan(scenario, students, seed)
    shots = hit(sessions, students, seed)
    responses = draw_responses(students, seed)
    given = given_by_lot(lots, scenario, sessions, students, seed) if lots else {}
    episodes = do_drills(sessions, shots, students, responses, seed, given)
    mess = plan_mess(scenario, sessions, shots, seed)
    mess.endless = forget_ends(episodes, sessions, seed)
    seconds = strike_seconds(sessions, shots, episodes, mess.overruns, seed)
    errors = draw_bay_errors(scenario, seed)
    return Term(scenario, students, sessions, shots, responses, episodes, mess, seconds, errors, seed)


def _who(term: Term) -> np.ndarray:
    """Return what stands in each shot's student column: empty where nobody signed in or a coach hits."""
    ids, sessions = student_ids(term.students), term.sessions
    name = ids[sessions.student].astype(object)
    guest = sessions.student < 0
    name[guest] = [f"guest-{n}" for n in np.flatnonzero(guest)]
    name[term.mess.blank_id] = ""
    shown = name[term.shots.session]
    borrowed = term.mess.other_hand >= 0
    shown[borrowed] = ids[term.mess.other_hand[borrowed]]
    shown[term.mess.demo] = ""
    return shown.astype(str)


def measured(term: Term) -> pl.DataFrame:
    """Return every shot as its bay saw it, in canonical columns, ordered by bay and time."""
    sessions, shots, draws = term.sessions, term.shots, stream(term.seed, "ball")
    bay, day = sessions.bay[shots.session], sessions.day[shots.session]
    outdoor = np.array([b[3] == "outdoor" for b in BAYS])[bay]
    thin = np.array([s.air_density for s in SITES])[sessions.site[shots.session]]
    range_ball = np.array([b[4] == "range" for b in BAYS])[bay]
    numbers = strike(shots.delivery, shots.mishit, np.where(outdoor, thin, SEA_LEVEL), range_ball, draws)
    student = sessions.student[shots.session]
    left = np.where(student >= 0, term.students.left[student], False) & ~term.mess.demo
    seen = measure(numbers, left, bay, day, term.errors, draws)
    clock = term.errors.clock_seconds(bay, day)
    local = day * 86400 + sessions.hour[shots.session] * 3600 + np.floor(term.seconds).astype(np.int64)
    start = np.datetime64(datetime.combine(FIRST_DAY, datetime.min.time()), "us")
    frame = pl.DataFrame({
        "bay_id": np.array([b[0] for b in BAYS])[bay], "profile": np.array([b[2] for b in BAYS])[bay],
        "zone": np.array([s.timezone for s in SITES])[sessions.site[shots.session]],
        "local": start + local.astype("timedelta64[s]"), "night_day": day, "clock": clock,
        "student_id": _who(term), "club": shots.club, "session": shots.session, **seen,
    }).filter(~dead(term)[shots.session])  # fmt: skip
    zones = frame["zone"].unique().sort().to_list()
    utc = pl.coalesce([
        pl.when(pl.col("zone") == zone).then(
            pl.col("local").dt.replace_time_zone(zone).dt.convert_time_zone("UTC").dt.replace_time_zone(None))
        for zone in zones])  # fmt: skip
    return frame.with_columns(
        (utc + pl.duration(seconds="clock")).alias("struck_utc"),
        (pl.lit(FIRST_DAY) + pl.duration(days="night_day")).cast(pl.Date).dt.to_string("%Y-%m-%d").alias("night"),
    ).drop("local", "clock", "night_day").sort("bay_id", "struck_utc", "session")  # fmt: skip


def dead(term: Term) -> np.ndarray:
    bay, begins, ends = term.mess.dead_bay
    at = np.array([b[0] == bay for b in BAYS])[term.sessions.bay]
    return at & (term.sessions.day >= begins) & (term.sessions.day < ends)
