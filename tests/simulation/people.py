"""Who is in a drawn academy: students, coaches, bays and drills, with what each truly does.

Not here: what they hit (`academies`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.simulation.scenario import BETWEEN, CLUBS, LEVEL, METRICS, SHOT, TOWARD, UNIT, Scenario

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

ANY_CLUB = -1


@dataclass(frozen=True)
class Students:
    """Arrays by student (s,), student x metric (s, m) or student x club x metric (s, c, m); units of the metric."""

    level: Floats
    shot: Floats
    slope: Floats
    gain: Floats
    warm_up: Floats
    fast: Flags
    left: Flags
    bay: Ints
    coach: Ints
    driver_share: Floats
    lesson_share: Floats
    gap_days: Floats
    quits: Floats


@dataclass(frozen=True)
class Drills:
    """Arrays by drill: `aim` metric index, `club` index or ANY_CLUB, `size` in smallest changes, `side` (d, m) shifts
    on other metrics (units of the metric), `log_spread` (d, m), `kept` share at once left the next day, `favoured` by
    coaches for the fast group; `talent` (s, d) multiplies the size, `quirk` (s, d) adds to it, by student."""

    aim: Ints
    club: Ints
    size: Floats
    side: Floats
    log_spread: Floats
    kept: Floats
    favoured: Flags
    talent: Floats
    quirk: Floats


@dataclass(frozen=True)
class Staff:
    """`uses` (coach, drill) repertoires, `attention` (coach, m) added to every block after talk, `bay` (b, m)."""

    uses: Flags
    attention: Floats
    bay: Floats


def draw_students(rng: np.random.Generator, scenario: Scenario, bays: int, coaches: int) -> Students:
    """Draw the students; favourite bays have unequal shares of left-handers and of fast improvers' coaches."""
    s, m = int(rng.integers(*scenario.students)), len(METRICS)
    common = rng.standard_t(6, (s, 1, m)) / np.sqrt(1.5)
    level = (np.sqrt(0.7) * common + np.sqrt(0.3) * rng.normal(size=(s, len(CLUBS), m))) * BETWEEN * UNIT
    bay = rng.integers(0, bays, s)
    fast = rng.random(s) < scenario.fast_share
    coach = np.where(fast & (rng.random(s) < 0.4), 0, rng.integers(0, coaches, s))
    cold = rng.gamma(4, 0.25, (s, m)) * rng.choice([0.5, 0.8, 1.2], m) * (1 - 2 * TOWARD)
    slope = rng.normal(scenario.trend, scenario.trend_spread, (s, m)) + scenario.fast * fast[:, None]
    return Students(
        level=level,
        shot=SHOT * UNIT * np.exp(rng.normal(0, 0.2, (s, 1))),
        slope=slope * UNIT,
        gain=rng.normal(0, scenario.own_gain, (s, m)) * UNIT,
        warm_up=scenario.warm_up * cold * UNIT,
        fast=fast,
        left=rng.random(s) < np.where(bay < 2, 0.4, 0.06),
        bay=bay,
        coach=coach,
        driver_share=rng.beta(5, 3, s),
        lesson_share=rng.beta(5, 3, s),
        gap_days=rng.uniform(3, 9, s),
        quits=rng.uniform(0, 2, s) * scenario.quit,
    )


def draw_drills(rng: np.random.Generator, scenario: Scenario, students: int) -> Drills:
    """Draw 8 to 12 drills on three aims: nulls, sizes of half to two smallest changes, and one that harms."""
    d, m = int(rng.integers(8, 13)), len(METRICS)
    aims = rng.permutation(m)[:3]
    aim = np.resize(aims, d)
    size = rng.choice([0.0, 0.5, 1.0, 1.5, 2.0], d, p=[0.4, 0.12, 0.22, 0.13, 0.13])
    harmful = int(rng.integers(d))
    size[harmful] = -0.7
    side = rng.normal(0, 0.5, (d, m)) * (rng.random((d, m)) < 0.3) * UNIT
    side[np.arange(d), aim] = 0
    # Half of the useless drills do nothing to anybody; the other half help some and hurt some.
    mixed = (size != 0) | (rng.random(d) < 0.5)
    return Drills(
        aim=aim,
        club=rng.choice([0, 1, ANY_CLUB], d, p=[0.6, 0.2, 0.2]),
        size=size,
        side=side,
        log_spread=rng.choice([0.0, -0.2, 0.12], (d, m), p=[0.8, 0.12, 0.08]),
        kept=rng.uniform(0.1, 1.0, d),
        favoured=rng.random(d) < 0.25,
        talent=np.clip(rng.normal(1, scenario.uneven, (students, d)), -0.5, 3),
        quirk=rng.normal(0, 0.6 * scenario.uneven, (students, d)) * mixed,
    )


def draw_staff(rng: np.random.Generator, scenario: Scenario, bays: int, coaches: int, drills: int) -> Staff:
    """Draw repertoires (every drill known to somebody), attention and bay offsets."""
    uses = rng.random((coaches, drills)) < scenario.repertoire
    uses[rng.integers(0, coaches, drills), np.arange(drills)] = True
    attention = rng.normal(scenario.attention, scenario.coach, (coaches, len(METRICS))) * UNIT
    return Staff(uses, attention, rng.normal(0, scenario.bay, (bays, len(METRICS))) * UNIT)


def pull(drills: Drills, students: Ints, club: Ints, level: Floats) -> tuple[Floats, Floats]:
    """What each drill would do to each student at this level today.

    Parameters
    ----------
    students, club : (n,) indices.
    level : (n, m) delivery now, golfer's frame.

    Returns
    -------
    shift : (n, d, m) change of the level, metric's unit.
    need : (n, d) how far each is from the drill's aim, in smallest changes.
    """
    n, d = students.size, drills.aim.size
    now = level[:, drills.aim] / UNIT[drills.aim]
    toward = TOWARD[drills.aim]
    need = np.where(toward, np.abs(now), (LEVEL[club] / UNIT)[:, drills.aim] + 1.5 - now)
    strength = drills.size * drills.talent[students] + drills.quirk[students]
    raised = strength * (1 + 0.15 * np.clip(need - 1.5, -2, 3))
    brought_in = strength * np.clip(need / 2.2, 0, 1.7)
    toward_zero = -np.sign(now) * np.minimum(brought_in, 1.2 * need)
    shift = drills.side[None] * drills.talent[students][:, :, None]
    shift = np.broadcast_to(shift, (n, d, len(METRICS))).copy()
    shift[:, np.arange(d), drills.aim] = np.where(toward, toward_zero, raised) * UNIT[drills.aim]
    return shift, need
