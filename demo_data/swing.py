"""Deliveries: levels, day form, settling in, warm-up and shot-to-shot spread, for all shots at once.

Numbers are in the golfer's own frame (in to out, open, toe are plus). Not here: drills (effects.py), the ball and
what a bay makes of it (ball.py, bay_errors.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from demo_data.academy import ATTACK, CLUB_GROUP, FACE_TO_PATH, LATENT, LOFT, PATH, PITCHING, SPEED, stream
from demo_data.drills import ATTENTION
from demo_data.students import (
    CLUB_LOFT,
    CLUB_SPEED_SHARE,
    FORM_SHARE,
    SETTLING_SHARE,
    SHOT_CORRELATION,
    Students,
)
from demo_data.timetable import COACHED, Sessions

WARM_UP = np.zeros(len(LATENT))
WARM_UP[[ATTACK, PATH, FACE_TO_PATH, SPEED]] = (-0.6, -0.3, 0.4, -1.0)
WARM_UP_SHOTS = 5.0
SETTLING_SHOTS = 6.0
TAIL_DF = 6


@dataclass
class Shots:
    """One entry a shot, ordered by session and then by order: arrays of one length n.

    session: which session; order: 0, 1, … within it; club: club number; delivery: (n, latent); mishit: contact lost;
    first: (sessions,) where each session begins.
    """

    session: np.ndarray
    order: np.ndarray
    club: np.ndarray
    delivery: np.ndarray
    mishit: np.ndarray
    first: np.ndarray

    def __len__(self) -> int:
        return self.session.size


def _person(sessions: Sessions, students: Students, draws: np.random.Generator) -> np.ndarray:
    """Return whose swing a session has; a guest swings like somebody drawn from the students."""
    return np.where(sessions.student < 0, draws.integers(0, students.home.size, len(sessions)), sessions.student)


def hit(sessions: Sessions, students: Students, seed: int) -> Shots:
    """Draw every shot's delivery as it would be without any drill.

    Returns
    -------
    Shots
        Of ``sessions.shots.sum()`` entries.
    """
    draws, count = stream(seed, "swing"), len(LATENT)
    first = np.concatenate(([0], np.cumsum(sessions.shots)[:-1]))
    session = np.repeat(np.arange(len(sessions)), sessions.shots)
    order = np.arange(session.size) - first[session]
    club = sessions.club[session]
    club = np.where(order < sessions.warm_shots[session], PITCHING, club)
    club = np.where(order >= sessions.shots[session] // 2 + 4, np.where(
        club == sessions.club[session], sessions.second_club[session], club), club)  # fmt: skip
    person = _person(sessions, students, draws)[session]
    group, week = CLUB_GROUP[club], (sessions.day[session] / 7)[:, None]
    spread = students.shot_sd[person, group]
    root = np.linalg.cholesky(SHOT_CORRELATION).T
    form = (draws.normal(size=(len(sessions), count)) @ root)[session] * FORM_SHARE * spread
    settling = draws.normal(size=(len(sessions), count))[session] * SETTLING_SHARE * spread
    settling = settling * np.exp(-order / SETTLING_SHOTS)[:, None]
    tail = np.sqrt((TAIL_DF - 2) / draws.chisquare(TAIL_DF, session.size))[:, None]
    warm = np.exp(-order / WARM_UP_SHOTS)[:, None]
    noise = (draws.normal(size=(session.size, count)) @ root) * tail * spread * (1 + 0.35 * warm)
    base = students.level[person, group] + students.trend[person, group] * week
    base[:, SPEED] *= CLUB_SPEED_SHARE[club]
    base[:, LOFT] += CLUB_LOFT[club]
    along = (order / np.maximum(sessions.shots[session] - 1, 1))[:, None]
    base += along * students.second_half[person] + WARM_UP * warm
    base += along * _attention(sessions, draws)[session]
    mishit = draws.random(session.size) < 0.015 + 0.0012 * students.handicap[person]
    return Shots(session, order, club, base + form + settling + noise, mishit, first)


def _attention(sessions: Sessions, draws: np.random.Generator) -> np.ndarray:
    """Return (sessions, latent): what being coached adds by the end, drill or none; coaches differ."""
    mean = np.array([ATTENTION.get(metric, 0.0) for metric in LATENT])
    own = mean * draws.uniform(0.4, 1.6, (int(sessions.coach.max()) + 2, 1))
    return np.where((sessions.kind == COACHED)[:, None], own[sessions.coach], 0.0)
