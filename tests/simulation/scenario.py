"""The conditions an academy is drawn under. All sizes are in units of each metric's smallest change that matters.

Not here: the drawing of people and shots (`people`, `academies`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from warehouse.schema.metrics import METRIC

Floats = NDArray[np.float64]

METRICS = ("attack_angle", "club_path", "face_angle", "ball_speed")
TOWARD = np.array([False, True, True, False])
UNIT = np.array([METRIC[name].matters_from for name in METRICS])
MIRRORED = np.array([METRIC[name].mirrored for name in METRICS])
CLUBS = ("driver", "iron-7")
GROUPS = ("driver", "iron")

LEVEL = np.array([[-1.5, -1.5, 1.0, 68.0], [-4.0, -1.0, 0.5, 53.0]])
"""Mean delivery by club and metric."""
BETWEEN = np.array([2.4, 2.6, 2.0, 4.0])
DAY = np.array([1.1, 1.2, 1.2, 1.2])
SHOT = np.array([2.0, 2.2, 3.0, 2.6])


@dataclass(frozen=True)
class Scenario:
    """What differs between academies; defaults are the mixed case.

    Shots: `tail` degrees of freedom of shots and day form, `contamination` share of shots four times as wide,
    `serial` correlation of successive shots. Sessions: `warm_up` and `warm_up_shots` size and length of the
    exponential warm-up, `drill_balls` share of the balls hit with a drill that count for it (0: no ball is hit with
    it), `form_kept` share of the day's form that the second block still has, `walk` its own wander, `own_gain`
    lasting differences between students in how a session goes. Terms: `trend`, `trend_spread`, `fast` (slope of the
    fast group), `fast_share`, `fast_bonus` (how much coaches prefer certain drills for them). Choosing: `pull_pre`,
    `pull_level` selection on how far today's block is from the usual level and on the usual level, `insight` how
    much of the true level a coach knows beyond the blocks of earlier days, `repertoire` share of drills a coach
    uses, `coach` spread and `attention` mean of what a coach's presence does, `lesson_free` lessons without a
    drill, `drawn` lessons that draw lots. Effects: `uneven` spread between students, `fade_days` of what is left
    behind. Log: `misnamed` share of drills logged under another's name, `not_logged` share left out.
    Device: `jump` of one bay in mid-term, nobody says so. Attendance: `quit` and `skip` strength of informative
    drop-out. `bay` spread of offsets.
    """

    name: str = "mixed"
    students: tuple[int, int] = (100, 160)
    weeks: tuple[int, int] = (14, 26)
    tail: float = 4.0
    contamination: float = 0.02
    warm_up: float = 1.0
    warm_up_shots: float = 8.0
    walk: float = 0.5
    form_kept: float = 0.5
    drill_balls: float = 0.5
    insight: float = 0.25
    serial: float = 0.1
    own_gain: float = 0.25
    trend: float = 0.02
    trend_spread: float = 0.03
    fast: float = 0.05
    fast_share: float = 0.2
    fast_bonus: float = 0.7
    pull_pre: float = 1.0
    pull_level: float = 0.5
    repertoire: float = 0.75
    coach: float = 0.2
    attention: float = 0.15
    lesson_free: float = 0.3
    drawn: float = 0.12
    uneven: float = 0.35
    quit: float = 0.01
    skip: float = 0.3
    fade_days: float = 45.0
    bay: float = 1.0
    misnamed: float = 0.0
    not_logged: float = 0.0
    jump: float = 0.0


PLAIN = Scenario(
    name="plain", tail=8.0, contamination=0.0, own_gain=0.1, walk=0.4, serial=0.0, fast=0.0, fast_bonus=0.0,
    pull_pre=1.0, pull_level=0.3, repertoire=0.9, uneven=0.2, drill_balls=0.0, insight=0.0, quit=0.0, skip=0.0,
)  # fmt: skip
MIXED = Scenario()
HARD = Scenario(
    name="hard", tail=3.0, contamination=0.03, warm_up=1.3, walk=0.6, serial=0.15, own_gain=0.3, trend=0.03,
    trend_spread=0.05, fast=0.12, fast_share=0.25, fast_bonus=1.5, pull_pre=1.4, pull_level=0.7, repertoire=0.6,
    coach=0.3, uneven=0.5, drill_balls=1.0, insight=0.5, quit=0.03, skip=0.6,
)  # fmt: skip
TREND = replace(MIXED, name="trend", fast=0.30, fast_share=0.5, fast_bonus=3.0, drawn=0.0)
"""Half of the students improve several times as fast and get certain drills; nothing is drawn by lot."""
TREND_LOTS = replace(TREND, name="trend, lots", drawn=0.10)
LOG = replace(MIXED, name="log", misnamed=0.10, not_logged=0.08)
"""A tenth of the log names another drill, and a twelfth of the drills is in no log. (When a drill was is a question of
balls: tests/warehouse/domain/drill_log.)"""
DEVICE = replace(MIXED, name="device", jump=2.0)
"""A device is replaced in mid-term without a word."""
ALL = replace(TREND_LOTS, name="all at once", misnamed=0.10, not_logged=0.08, jump=2.0)
SCENARIOS = {
    scenario.name: scenario for scenario in (PLAIN, MIXED, HARD, TREND, TREND_LOTS, LOG, DEVICE, ALL)
}  # fmt: skip


def vary(scenario: Scenario, rng: np.random.Generator) -> Scenario:
    """Draw selection, trend, drop-out and confounding around the scenario's own, so that no two academies agree."""
    scale = {
        field: getattr(scenario, field) * rng.uniform(0.6, 1.4)
        for field in ("warm_up", "walk", "own_gain", "trend", "fast", "fast_bonus", "pull_pre", "pull_level", "coach",
                      "attention", "lesson_free", "drawn", "uneven", "quit", "skip", "bay")
    }  # fmt: skip
    return replace(scenario, **scale, fade_days=scenario.fade_days * rng.uniform(0.6, 1.6))
