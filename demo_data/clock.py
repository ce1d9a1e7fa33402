"""When each ball is struck, in seconds after the session's hour begins, and when aids go down and come up."""

from __future__ import annotations

import numpy as np

from demo_data.academy import stream
from demo_data.effects import Episode
from demo_data.swing import Shots
from demo_data.timetable import Sessions

BALLS_A_TURN = 5
LAST_BALL = 3420.0
"""A lesson's last ball, as a rule: a minute is left to tidy up."""


def strike_seconds(sessions: Sessions, shots: Shots, episodes: list[Episode], overruns: np.ndarray,
                   seed: int) -> np.ndarray:  # fmt: skip
    """Return seconds since the hour, one entry a shot, rising within each session.

    Alone: one ball about every 40 s with a pause when an aid goes down or comes up. Sharing a bay: five balls each,
    in turn. `overruns` (sessions,) marks those that go on some minutes after their hour.
    """
    draws = stream(seed, "clock")
    gap = np.exp(draws.normal(np.log(38), 0.28, len(shots)))
    first = shots.first
    gap[first] = 0
    for episode in episodes:
        for place in (episode.begin, episode.end):
            if place < sessions.shots[episode.session]:
                gap[first[episode.session] + place] += draws.uniform(45, 80)
    run = np.cumsum(gap)
    alone = run - run[first][shots.session] + draws.uniform(70, 180, len(sessions))[shots.session]
    mates, turn = sessions.mates[shots.session], sessions.turn[shots.session]
    rank = ((shots.order // BALLS_A_TURN) * mates + turn) * BALLS_A_TURN + shots.order % BALLS_A_TURN
    shared = 100 + rank * 53.0 + draws.uniform(-14, 14, len(shots))
    seconds = np.where(mates > 1, shared, alone)
    last = seconds[first + sessions.shots - 1]
    wanted = np.where(overruns, np.maximum(last, draws.uniform(3840, 4080, len(sessions))),
                      np.minimum(last, LAST_BALL))  # fmt: skip
    return seconds * (wanted / last)[shots.session]


def aid_moments(shots: Shots, episode: Episode, seconds: np.ndarray) -> tuple[int, int]:
    """Return the seconds since the hour at which the aid goes down (before its first ball) and comes up."""
    start = shots.first[episode.session]
    down = (seconds[start + episode.begin - 1] + seconds[start + episode.begin]) / 2
    after = min(start + episode.end, len(seconds) - 1)
    last = seconds[start + episode.end - 1]
    up = (last + seconds[after]) / 2 if shots.session[after] == episode.session else last + 15
    return int(np.floor(down)) + 1, int(np.floor(up)) + 1
