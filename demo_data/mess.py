"""Days as they are: demonstration balls, lessons that overrun, somebody else's balls, drills logged without an end.

Session by session, before any file is written. Faults of files and rows are in faults.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from demo_data.academy import ATTACK, FACE_TO_PATH, HIGH, PATH, SPEED, TOE, Scenario, stream
from demo_data.effects import Episode
from demo_data.students import CLUB_SPEED_SHARE
from demo_data.swing import Shots
from demo_data.timetable import COACHED, GUEST, OWN, Sessions

DEMO_BALLS, BORROWED_BALLS = 3, 4
COACH_SPEED = 46.0


@dataclass
class Mess:
    """What was planted: per session flags, per shot marks, and one plain row each for the truth.

    overruns, blank_id: (sessions,); demo: (shots,); other_hand: (shots,) another student's number or -1; endless:
    numbers of episodes logged without an end; dead: (sessions,) hit in a bay that sent nothing.
    """

    overruns: np.ndarray
    blank_id: np.ndarray
    dead: np.ndarray
    demo: np.ndarray
    other_hand: np.ndarray
    endless: set[int]
    dead_bay: tuple[str, int, int]
    rows: list[dict] = field(default_factory=list)


def _few(share: float, among: np.ndarray, least: int, draws: np.random.Generator) -> np.ndarray:
    """Return a sorted handful of the given numbers: a share of them, but at least `least` if there are so many."""
    count = min(among.size, max(least, round(share * among.size)))
    return np.sort(draws.choice(among, count, replace=False)) if count else among[:0]


def plan_mess(scenario: Scenario, sessions: Sessions, shots: Shots, seed: int) -> Mess:
    """Choose where a day goes otherwise than the timetable says, and change ``shots.delivery`` where a coach hits."""
    draws, n = stream(seed, "mess"), len(sessions)
    alone = np.flatnonzero((sessions.kind == COACHED) & (sessions.mates == 1))
    overruns, demo = np.zeros(n, bool), np.zeros(len(shots), bool)
    other = np.full(len(shots), -1)
    overruns[_few(0.015, alone, 1, draws)] = True
    blank = (draws.random(n) < 0.3) & (sessions.mates == 1) & (sessions.kind <= OWN)
    blank |= (sessions.kind == GUEST) & (draws.random(n) < 0.5)
    for s in _few(0.03, alone, 1, draws):
        at = shots.first[s] + sessions.warm_shots[s] + int(draws.integers(4, 9))
        demo[at : at + DEMO_BALLS] = True
    for s in _few(0.006, alone, 1, draws):
        at = shots.first[s] + sessions.shots[s] - 12
        other[at : at + BORROWED_BALLS] = _somebody_else(sessions, s, draws)
        blank[s] = False
    _coach_hits(shots, demo, draws)
    bay = "18" if "18" in scenario.bays else "03"
    dead_days = (int(0.5 * scenario.days), int(0.5 * scenario.days) + max(1, scenario.days // 12))
    return Mess(overruns, blank, np.zeros(n, bool), demo, other, set(), (bay, *dead_days))


def _somebody_else(sessions: Sessions, s: int, draws: np.random.Generator) -> int:
    others = np.unique(sessions.student[(sessions.site == sessions.site[s]) & (sessions.student >= 0)])
    return int(draws.choice(others[others != sessions.student[s]]))


def _coach_hits(shots: Shots, demo: np.ndarray, draws: np.random.Generator) -> None:
    """Put a good player's numbers where a coach demonstrates; loft stays the club's own."""
    good = {ATTACK: 1.0, PATH: 0.5, FACE_TO_PATH: 0.0, SPEED: COACH_SPEED, TOE: 0.0, HIGH: 0.0}
    for number, value in good.items():
        shots.delivery[demo, number] = value + draws.normal(0, 0.8, int(demo.sum()))
    shots.delivery[demo, SPEED] *= CLUB_SPEED_SHARE[shots.club[demo]]
    shots.mishit[demo] = False


def forget_ends(episodes: list[Episode], sessions: Sessions, seed: int) -> set[int]:
    """Return the numbers of a few coached drills whose end nobody marked (each the last of its session)."""
    last = {episode.session: n for n, episode in enumerate(episodes)}
    coached = np.array([n for s, n in last.items() if sessions.kind[s] == COACHED], dtype=np.int64)
    return {int(n) for n in _few(0.004, coached, 1, stream(seed, "ends"))}
