"""The academy's three drill trials, one finished, one running, one planned: who is asked when, agrees, does as drawn.

Not here: the lots. Whoever keeps the trials draws them while the term is played (`Lots`), so that what is drawn and
what is then done agree. Without one there are no trials.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from demo_data.academy import CLUB_GROUP, FIRST_DAY, GROUPS, LATENT, SITES, Scenario, stream
from demo_data.drills import DRILLS
from demo_data.students import Students
from demo_data.timetable import COACHED, Sessions

AGREE_SHARE, AS_DRAWN_SHARE = 0.85, 0.92
SHOTS_AFTER = 10
GAP_SEEN_SD = 0.5
ADULT = 18
NO_REASONS = (
    "Would rather go on as agreed with the coach.", "No time for it this term.", "Does not want to leave it to a lot.",
)  # fmt: skip
INSTEAD_REASON = "Not enough room in this bay today for what was drawn."
NUMBER = {drill.drill_id: n for n, drill in enumerate(DRILLS)}


@dataclass(frozen=True)
class Trial:
    """One trial as planned.

    `share` of the academy's students are to be drawn. `first`, `last`: share of the term at which it begins and ends;
    no `first`: planned for after the term, no `last`: still running. `cohorts`: who may take part, all where there is
    none. `begun_on`, `ended_on`, `students` and `gap_middle` (metric's unit) follow from the scenario.
    """

    trial_id: str
    title: str
    drills: tuple[str, ...]
    metric: str
    club_group: str
    share: float
    toward: bool = False
    free_practice: bool = False
    first: float | None = None
    last: float | None = None
    begun_on: date | None = None
    ended_on: date | None = None
    cohorts: tuple[str, ...] = ()
    weeks: float = 8.0
    students: int = 0
    gap_middle: float = 0.0


@dataclass(frozen=True)
class Asked:
    """One student asked in a lesson: said no (`refused` says why), or agreed; `instead`: why the coach then did not
    give what was drawn, empty where it was given; `withdraws`: took the agreement back afterwards."""

    session: int
    student_id: str
    site_id: str
    on: date
    starting_gap: float
    minor: bool
    refused: str
    instead: str
    withdraws: bool = False


Lots = Callable[[Trial, Sequence[Asked]], Mapping[str, str]]
"""Keeps a trial, enters those who agree in the order asked, and returns student_id -> drill drawn."""

TRIALS = (
    Trial("T1", "Box or high tee", ("D01", "D04"), "attack_angle", "driver", 0.4, first=0.1, last=0.8),
    Trial("T2", "Counting or trail side", ("D08", "D05"), "club_speed", "driver", 0.65, first=0.78),
    Trial(
        "T3",
        "Bag or free practice",
        ("D02",),
        "face_to_path",
        "driver",
        0.2,
        toward=True,
        free_practice=True,
        cohorts=("spring improvers", "spring starters"),
    ),
)


def _gaps(trial: Trial, students: Students, seed: int) -> np.ndarray:
    """Return how far each student seems to be from the aim: what a coach has seen so far, not the truth."""
    level = students.level[:, GROUPS.index(trial.club_group), LATENT.index(trial.metric)]
    far = np.abs(level) if trial.toward else level.mean() - level
    return far + stream(seed, f"gaps {trial.trial_id}").normal(0, GAP_SEEN_SD * level.std(), far.size)


def _asked(trial: Trial, days: tuple[int, int], sessions: Sessions, students: Students, seed: int) -> list[Asked]:
    """Ask each student once, in their first fitting lesson, until as many agreed as planned."""
    draws, gap = stream(seed, f"trial {trial.trial_id}"), _gaps(trial, students, seed)
    ids, people = students.frame["student_id"].to_list(), students.frame
    evidence = people.select("consent", "consent_evidence").rows()
    used = [own == "yes" or (own == "" and shown == "yes") for shown, own in evidence]
    room = sessions.warm_shots + sessions.pre + sessions.drill_shots + SHOTS_AFTER <= sessions.shots
    fits = (
        (sessions.kind == COACHED) & (sessions.mates == 1) & room & (sessions.day >= days[0]) & (sessions.day < days[1])
        & (CLUB_GROUP[sessions.club] == GROUPS.index(trial.club_group))
    )  # fmt: skip
    asked: dict[int, Asked] = {}
    agreed = 0
    for s in np.flatnonzero(fits):
        student = int(sessions.student[s])
        if student in asked or not used[student] or agreed == trial.students:
            continue
        luck = draws.random(3)
        says_no, instead = luck[0] >= AGREE_SHARE, luck[1] >= AS_DRAWN_SHARE
        agreed += not says_no
        asked[student] = Asked(
            int(s), ids[student], SITES[sessions.site[s]].site_id, FIRST_DAY + timedelta(days=int(sessions.day[s])),
            round(float(gap[student]), 2), bool(students.age[student] < ADULT),
            NO_REASONS[int(luck[2] * len(NO_REASONS))] if says_no else "", INSTEAD_REASON if instead else "",
        )  # fmt: skip
    found = list(asked.values())
    if trial.last is None:
        # While it runs, one of those drawn takes the agreement back.
        given = [n for n, one in enumerate(found) if not one.refused and not one.instead]
        found[given[len(given) // 2]] = replace(found[given[len(given) // 2]], withdraws=True)
    return found


def _dated(trial: Trial, scenario: Scenario, students: Students, seed: int) -> Trial:
    """Return the trial with its days, size and the gap that halves the students."""

    def day(share: float | None) -> date | None:
        return None if share is None else FIRST_DAY + timedelta(days=round(share * scenario.days))

    middle = round(float(np.median(_gaps(trial, students, seed))), 2)
    weeks = ((trial.last or 1.5) - trial.first) * scenario.days / 7 if trial.first is not None else trial.weeks
    return replace(
        trial, begun_on=day(trial.first), ended_on=day(trial.last), weeks=round(weeks, 1),
        students=2 * round(trial.share * scenario.students / 2), gap_middle=middle,
    )  # fmt: skip


def given_by_lot(
    lots: Lots, scenario: Scenario, sessions: Sessions, students: Students, seed: int
) -> dict[int, tuple[int, str]]:
    """Let the trials be drawn; return by session which drill is done in it, and who chose that (draw or coach)."""
    given: dict[int, tuple[int, str]] = {}
    for plan in TRIALS:
        trial = _dated(plan, scenario, students, seed)
        if plan.first is None:
            lots(trial, [])
            continue
        days = round(plan.first * scenario.days), round((plan.last or 1.0) * scenario.days)
        asked = _asked(trial, days, sessions, students, seed)
        drawn = lots(trial, asked)
        for one in asked:
            if one.student_id not in drawn:
                continue
            lot = drawn[one.student_id]
            other = next(drill for drill in trial.drills if drill != lot)
            given[one.session] = (NUMBER[other], "coach") if one.instead else (NUMBER[lot], "draw")
    return given
