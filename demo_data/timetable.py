"""Who hits in which bay and hour with whom: lessons, groups, pairs taking turns, own practice, walk-ins, guests.

Not here: what is hit (swing.py), which drill is done (effects.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from demo_data.academy import (
    BAYS,
    CLUBS,
    COACHES,
    DRIVER,
    HYBRID_4,
    IRON_7,
    IRON_9,
    PITCHING,
    SAND,
    SITES,
    WOOD_3,
    Scenario,
    site_number,
    stream,
)
from demo_data.students import Students

COACHED, OWN, WALK_IN, GUEST = range(4)
KINDS = ("coached", "own practice", "walk-in", "guest")
NO_STUDENT_COLUMN = frozenset(bay[0] for bay in BAYS if bay[2] == "enseada")
MAX_SHARED_SHOTS = 60
NOBODY = -1


@dataclass
class Sessions:
    """One entry a student's run of shots in a bay; all arrays have one length, ordered by day and hour.

    student and coach are numbers or -1; mates is how many share the bay that hour and turn which of them this is;
    warm_shots are hit first with a wedge; lot marks lessons whose drill is drawn by lot, decided beforehand.
    """

    student: np.ndarray
    bay: np.ndarray
    site: np.ndarray
    day: np.ndarray
    hour: np.ndarray
    kind: np.ndarray
    coach: np.ndarray
    mates: np.ndarray
    turn: np.ndarray
    club: np.ndarray
    second_club: np.ndarray
    shots: np.ndarray
    warm_shots: np.ndarray
    pre: np.ndarray
    drill_shots: np.ndarray
    lot: np.ndarray

    def __len__(self) -> int:
        return self.student.size


class _Day:
    """Free bays and coaches of one site on one day."""

    def __init__(self, scenario: Scenario, site: int, draws: np.random.Generator) -> None:
        place = SITES[site]
        self.site, self.draws = site, draws
        self.hours = np.arange(place.opens, place.closes)
        self.bays = [n for n, bay in enumerate(BAYS) if bay[1] == place.site_id and bay[0] in scenario.bays]
        self.coaches = [n for n, coach in enumerate(COACHES) if coach[2] == place.site_id]
        self.bay_taken: set[tuple[int, int]] = set()
        self.coach_taken: set[tuple[int, int]] = set()

    def place(self, coached: bool, named: bool) -> tuple[int, int, int] | None:
        """Return (bay, hour, coach), or None when the day is full. Walk-ins need a bay that notes who hits."""
        bays = [b for b in self.bays if not named or BAYS[b][0] not in NO_STUDENT_COLUMN]
        for _ in range(12):
            bay, hour = int(self.draws.choice(bays)), int(self.draws.choice(self.hours))
            if (bay, hour) in self.bay_taken:
                continue
            coach = NOBODY
            if coached:
                free = [c for c in self.coaches if (c, hour) not in self.coach_taken]
                if not free:
                    continue
                coach = int(self.draws.choice(free))
                self.coach_taken.add((coach, hour))
            self.bay_taken.add((bay, hour))
            return bay, hour, coach
        return None


def _visits(students: Students, scenario: Scenario, draws: np.random.Generator) -> np.ndarray:
    """Return (days, students) of the site visited, or -1; some come often, some seldom, fewer on Sundays."""
    count = students.home.size
    often = np.clip(draws.gamma(6.0, 1 / 6.0, count), 0.35, 2.0) * scenario.weekly_sessions / 7
    weekday = np.array([0.9, 0.95, 1.0, 1.0, 1.05, 1.35, 0.75])
    chance = often[None, :] * weekday[np.arange(scenario.days) % 7][:, None]
    visit = draws.random((scenario.days, count)) < chance
    away = students.travels[None, :] & (draws.random(visit.shape) < 0.4)
    site = np.where(away, 1 - students.home[None, :], students.home[None, :])
    return np.where(visit, site, NOBODY)


def _shared(waiting: list[int], size: int) -> list[int]:
    return [waiting.pop() for _ in range(size)] if len(waiting) >= size else []


def _site_day(scenario: Scenario, site: int, day: int, comers: np.ndarray, draws: np.random.Generator) -> list[tuple]:
    """Return rows (student, bay, site, day, hour, kind, coach, mates, turn) of one site's day."""
    free, rows = _Day(scenario, site, draws), []
    comers = draws.permutation(comers)
    kind = draws.choice(3, comers.size, p=[0.47, 0.27, 0.26])
    coached, own = comers[kind == COACHED].tolist(), comers[kind == OWN].tolist()
    together = [(COACHED, _shared(coached, 3)) for _ in range(draws.poisson(scenario.groups_a_day / len(SITES)))]
    together += [(OWN, _shared(own, 2)) for _ in range(draws.poisson(scenario.groups_a_day / len(SITES)))]
    alone = [(COACHED, [s]) for s in coached] + [(OWN, [s]) for s in own]
    alone += [(WALK_IN, [s]) for s in comers[kind == WALK_IN].tolist()]
    alone += [(GUEST, [NOBODY])] * int(draws.poisson(0.7))
    for what, people in together + alone:
        spot = free.place(what == COACHED, what >= WALK_IN) if people else None
        if spot is None:
            continue
        bay, hour, coach = spot
        rows += [(s, bay, site, day, hour, what, coach, len(people), turn) for turn, s in enumerate(people)]
    return rows


def _clubs(student: np.ndarray, people: int, draws: np.random.Generator) -> np.ndarray:
    """Most sessions are about a student's own goal club, the rest about any."""
    goal = draws.choice([DRIVER, IRON_7], max(people, 1), p=[0.6, 0.4])
    pool = [DRIVER, IRON_7, PITCHING, HYBRID_4, IRON_9, WOOD_3, SAND]
    other = draws.choice(pool, student.size, p=[0.36, 0.32, 0.12, 0.08, 0.06, 0.03, 0.03])
    return np.where(draws.random(student.size) < 0.65, goal[student], other)


def plan(scenario: Scenario, students: Students, seed: int) -> Sessions:
    """Draw every session of the term.

    Returns
    -------
    Sessions
        Ordered by day, hour, site, bay and turn. No coach is in two bays at once; a bay holds one party an hour.
    """
    draws = stream(seed, "timetable")
    visits = _visits(students, scenario, draws)
    rows: list[tuple] = []
    for day in range(scenario.days):
        for site in sorted(site_number(s) for s in scenario.sites):
            rows += _site_day(scenario, site, day, np.flatnonzero(visits[day] == site), draws)
    table = np.array(rows, dtype=np.int64)
    table = table[np.lexsort((table[:, 8], table[:, 1], table[:, 2], table[:, 4], table[:, 3]))]
    student, bay, site, day, hour, kind, coach, mates, turn = table.T
    n = len(table)
    club = _clubs(student, students.home.size, draws)
    alone = np.where(kind == COACHED, draws.integers(48, 66, n),
                     np.where(kind == OWN, draws.integers(45, 68, n), draws.integers(26, 66, n)))  # fmt: skip
    shots = np.where(mates > 1, MAX_SHARED_SHOTS // mates, alone)
    warm = np.where((draws.random(n) < 0.15) & (mates == 1) & (kind <= OWN) & (CLUB_IS_LONG[club]),
                    draws.integers(5, 10, n), 0)  # fmt: skip
    turn_to = (draws.random(n) < 0.2) & (kind == WALK_IN)
    second = np.where(turn_to, np.where(club == DRIVER, IRON_7, DRIVER), club)
    third = np.maximum(shots // 3, 6)
    pre = np.where(mates > 1, third, draws.integers(11, 19, n))
    drill = np.where(mates > 1, third - 1, draws.integers(11, 17, n))
    lot = (draws.random(n) < 0.13) & (kind == COACHED)
    return Sessions(student, bay, site, day, hour, kind, coach, mates, turn, club, second, shots, warm, pre, drill, lot)


CLUB_IS_LONG = np.array([group != "wedge" for _, group in CLUBS])
