"""The list of what was planted amiss on the range: one row each, for tests to look up."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import polars as pl

from demo_data.academy import BAYS, FIRST_DAY
from demo_data.bay_errors import DRIFTING_BAY, FAST_CLOCK_BAY, BayErrors
from demo_data.drills import DRILLS
from demo_data.effects import Episode
from demo_data.mess import BORROWED_BALLS, DEMO_BALLS, Mess
from demo_data.swing import Shots
from demo_data.timetable import COACHED, GUEST, NO_STUDENT_COLUMN, Sessions

COLUMNS = ("kind", "night", "until_night", "bay_id", "lesson_id", "student_id", "shots", "detail")


def _night(day: int) -> str:
    return (FIRST_DAY + timedelta(days=int(day))).isoformat()


def planted_mess(sessions: Sessions, shots: Shots, episodes: list[Episode], mess: Mess, errors: BayErrors,
                 lesson: np.ndarray, ids: np.ndarray) -> pl.DataFrame:  # fmt: skip
    """Return one row a thing amiss: kind, from and until which night, where, whose, how many shots, and words."""
    bay_of = [bay[0] for bay in BAYS]
    rows: list[tuple] = []

    def note(kind: str, s: int, count: int, detail: str) -> None:
        rows.append((kind, _night(sessions.day[s]), "", bay_of[sessions.bay[s]], lesson[s],
                     ids[sessions.student[s]], int(count), detail))  # fmt: skip

    for s in np.flatnonzero(mess.overruns):
        note("overrun", s, sessions.shots[s], "last balls after the lesson's end")
    for s in np.unique(shots.session[mess.demo]):
        note("demonstration", s, DEMO_BALLS, "a coach's balls, nobody signed in for them")
    borrowed = np.flatnonzero(mess.other_hand >= 0)
    for first in borrowed[::BORROWED_BALLS]:
        note("another student", shots.session[first], BORROWED_BALLS, f"hit by {ids[mess.other_hand[first]]}")
    for s in np.flatnonzero((sessions.mates > 1) & (sessions.turn == 0)):
        kind = "group lesson" if sessions.kind[s] == COACHED else "taking turns"
        apart = "no sign-in in this bay" if bay_of[sessions.bay[s]] in NO_STUDENT_COLUMN else "told apart by sign-in"
        note(kind, s, sessions.shots[s] * sessions.mates[s], f"{sessions.mates[s]} students, {apart}")
    for n in sorted(mess.endless):
        note("drill without an end", episodes[n].session, episodes[n].end - episodes[n].begin,
             DRILLS[episodes[n].drill].drill_id)  # fmt: skip
    for s in np.flatnonzero(sessions.kind == GUEST):
        note("guest", s, sessions.shots[s], "nobody signed in" if mess.blank_id[s] else f"guest-{s}")
    used = {bay_of[b] for b in np.unique(sessions.bay)}
    for kind, bay, since, until, detail in (
        ("dead bay", *mess.dead_bay, "no file at all"),
        ("clock ahead", FAST_CLOCK_BAY, errors.clock_from, errors.clock_until, "three minutes"),
        ("drifting bay", DRIFTING_BAY, errors.drift_from, errors.drift_until, "attack angle and path"),
    ):
        if bay in used:
            rows.append((kind, _night(since), _night(until), bay, "", "", None, detail))
    return pl.DataFrame(rows, schema=COLUMNS, orient="row", infer_schema_length=None)
