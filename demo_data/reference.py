"""The academy's reference tables as the landing folder holds them; all times local to the site, ids as text."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import numpy as np
import polars as pl

from demo_data.academy import BAYS, COACHES, FIRST_DAY, SITES, Scenario, stream
from demo_data.bay_errors import DRIFTING_BAY, BayErrors
from demo_data.clock import aid_moments
from demo_data.drills import DRILLS
from demo_data.effects import Episode
from demo_data.mess import Mess
from demo_data.students import Students
from demo_data.swing import Shots
from demo_data.timetable import COACHED, OWN, Sessions


def local(day: int, hour: int, seconds: int = 0) -> str:
    """Return a local moment as text, the day counted from the term's first."""
    start = datetime.combine(FIRST_DAY, datetime.min.time())
    return (start + timedelta(days=int(day), hours=int(hour), seconds=int(seconds))).isoformat()


def lesson_ids(sessions: Sessions) -> np.ndarray:
    """Return each session's lesson_id, empty for walk-ins and guests; numbered in order of time."""
    booked = sessions.kind <= OWN
    number = np.cumsum(booked)
    return np.array([f"{n:06d}" if is_booked else "" for n, is_booked in zip(number, booked, strict=True)])


def lessons(sessions: Sessions, ids: np.ndarray, student_ids: np.ndarray) -> pl.DataFrame:
    """One row a student and booked hour; a group is several rows, own practice has no coach."""
    rows = [
        (ids[s], student_ids[sessions.student[s]],
         COACHES[sessions.coach[s]][0] if sessions.kind[s] == COACHED else "", BAYS[sessions.bay[s]][0],
         local(sessions.day[s], sessions.hour[s]), local(sessions.day[s], sessions.hour[s] + 1))
        for s in np.flatnonzero(sessions.kind <= OWN)
    ]  # fmt: skip
    names = ["lesson_id", "student_id", "coach_id", "bay_id", "starts_at", "ends_at"]
    return pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String), orient="row")


def drill_log(sessions: Sessions, shots: Shots, episodes: list[Episode], seconds: np.ndarray, ids: np.ndarray,
              mess: Mess) -> pl.DataFrame:  # fmt: skip
    """One row a drill done: aid down, aid up (empty where nobody marked it), and who chose it."""
    rows = []
    for n, episode in enumerate(episodes):
        down, up = aid_moments(shots, episode, seconds)
        day, hour = sessions.day[episode.session], sessions.hour[episode.session]
        ends = "" if n in mess.endless else local(day, hour, up)
        rows.append((ids[episode.session], DRILLS[episode.drill].drill_id, local(day, hour, down), ends,
                     episode.chosen_by))  # fmt: skip
    names = ["lesson_id", "drill_id", "starts_at", "ends_at", "chosen_by"]
    return pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String), orient="row")


def observations(sessions: Sessions, student_ids: np.ndarray, seed: int) -> pl.DataFrame:
    """What a coach noted by hand in about a fifth of coached lessons."""
    draws = stream(seed, "observations")
    measures = (("ball position", "cm behind lead heel", 6.0, 3.0), ("stance width", "cm", 52.0, 6.0),
                ("tee height", "mm", 38.0, 6.0), ("hand depth at the top", "cm", 22.0, 5.0),
                ("weight on the lead foot", "%", 52.0, 6.0))  # fmt: skip
    rows = []
    for s in np.flatnonzero((sessions.kind == COACHED) & (draws.random(len(sessions)) < 0.2)):
        name, unit, mean, sd = measures[int(draws.integers(len(measures)))]
        rows.append((student_ids[sessions.student[s]], local(sessions.day[s], sessions.hour[s], 240), name,
                     f"{draws.normal(mean, sd):.0f}", unit, COACHES[sessions.coach[s]][0]))  # fmt: skip
    names = ["student_id", "observed_at", "measure", "value", "unit", "coach_id"]
    return pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String), orient="row")


def events(scenario: Scenario, errors: BayErrors, student_ids: np.ndarray, seed: int) -> pl.DataFrame:
    """New clubs, new balls, a device moved, the drifting bay recalibrated, two long breaks."""
    draws = stream(seed, "events")

    def when(share: float) -> str:
        return (FIRST_DAY + timedelta(days=int(share * scenario.days))).isoformat()

    rows = [("student", str(s), when(draws.uniform(0.2, 0.8)), "club changed", "driver", "new shaft")
            for s in draws.choice(student_ids, max(1, len(student_ids) // 20), replace=False)]  # fmt: skip
    rows += [("student", str(s), when(draws.uniform(0.3, 0.6)), "long break", "", "away")
             for s in draws.choice(student_ids, 2, replace=False)]  # fmt: skip
    rows.append(("site", scenario.sites[0], when(0.62), "balls changed", "", "new range balls"))
    rows.append(("bay", scenario.bays[-1], when(0.4), "device moved", "", "stand replaced"))
    if DRIFTING_BAY in scenario.bays:
        day = (FIRST_DAY + timedelta(days=errors.drift_until)).isoformat()
        rows.append(("bay", DRIFTING_BAY, day, "device recalibrated", "", "numbers had wandered"))
    names = ["scope", "id", "on_date", "kind", "club", "note"]
    return pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String), orient="row")


def fixed_tables(scenario: Scenario) -> dict[str, pl.DataFrame]:
    """Return sites, bays, coaches and drills of a scenario."""
    sites = [(s.site_id, s.name, s.timezone, s.altitude_m) for s in SITES if s.site_id in scenario.sites]
    drills = [(d.drill_id, d.name, d.aim_metric, d.aim_direction, "" if d.aim_target is None else str(d.aim_target),
               d.club_group, d.setup, d.caution) for d in DRILLS]  # fmt: skip
    return {
        "sites": pl.DataFrame(sites, schema=["site_id", "name", "timezone", "altitude_m"], orient="row"),
        "bays": pl.DataFrame([b for b in BAYS if b[0] in scenario.bays], orient="row",
                             schema=["bay_id", "site_id", "export_profile", "setting", "ball"]),
        "coaches": pl.DataFrame([c[:2] for c in COACHES if c[2] in scenario.sites], orient="row",
                                schema=["coach_id", "name"]),
        "drills": pl.DataFrame(drills, orient="row", schema=["drill_id", "name", "aim_metric", "aim_direction",
                                                             "aim_target", "club_group", "setup", "caution"]),
    }  # fmt: skip


def student_ids(students: Students) -> np.ndarray:
    """Return ids by student number; the last entry (number -1) is nobody's, empty."""
    return np.array([*students.frame["student_id"].to_list(), ""])


def day_of(night: str) -> int:
    """Return the day number of a night."""
    return (date.fromisoformat(night) - FIRST_DAY).days
