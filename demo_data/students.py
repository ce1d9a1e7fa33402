"""The students: who they are, what their delivery is like, how it spreads, and where it is heading.

All levels are in the golfer's own frame (in to out, open, toe are plus), in canonical units.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

from demo_data.academy import (
    ATTACK,
    CLUB_GROUP,
    CLUBS,
    FACE_TO_PATH,
    FIRST_DAY,
    GROUPS,
    HIGH,
    LATENT,
    LOFT,
    PATH,
    SITES,
    SPEED,
    TOE,
    Scenario,
    site_number,
    stream,
)
from demo_data.names import invent

CLUB_LOFT = np.array([14.0, 26.0, 38.0, 20.0, 33.0, 16.5, 46.0])
CLUB_SPEED_SHARE = np.array([1.0, 0.80, 0.73, 0.88, 0.76, 0.95, 0.70])
GROUP_ATTACK = np.array([-0.8, -2.5, -3.8, -5.0])
FORM_SHARE = 0.40
SETTLING_SHARE = 0.15
SHOT_CORRELATION = np.eye(len(LATENT))
for _a, _b, _r in ((ATTACK, PATH, 0.45), (PATH, FACE_TO_PATH, -0.35), (ATTACK, LOFT, 0.35),
                   (FACE_TO_PATH, LOFT, 0.25), (ATTACK, HIGH, 0.15)):  # fmt: skip
    SHOT_CORRELATION[_a, _b] = SHOT_CORRELATION[_b, _a] = _r


@dataclass(frozen=True)
class Students:
    """Students as arrays of one length n, and what the landing folder says of them.

    level: (n, groups, latent); shot_sd: (n, groups, latent); trend: (n, groups, latent) a week; second_half: (n,
    latent) what a student's numbers do toward the end of any session; travels: (n,) also plays the other site.
    """

    frame: pl.DataFrame
    enrolments: pl.DataFrame
    home: np.ndarray
    travels: np.ndarray
    left: np.ndarray
    handicap: np.ndarray
    level: np.ndarray
    shot_sd: np.ndarray
    trend: np.ndarray
    second_half: np.ndarray
    age: np.ndarray


def _ages(count: int, draws: np.random.Generator) -> np.ndarray:
    kind = draws.choice(3, count, p=[0.24, 0.56, 0.20])
    age = np.where(kind == 0, draws.uniform(9, 17.9, count), draws.uniform(18, 59, count))
    return np.where(kind == 2, draws.uniform(60, 79, count), age)


def _driver_speed(age: np.ndarray, handicap: np.ndarray, draws: np.random.Generator) -> np.ndarray:
    """Driver club speed in m/s: children grow into it, it wanes with age, better players have more."""
    grown = 45.5 - 0.16 * handicap - 0.22 * np.maximum(age - 50, 0) - 3.0 * draws.binomial(1, 0.35, age.size)
    return np.minimum(grown, 24 + 2.2 * (age - 9)) + draws.normal(0, 1.6, age.size)


def _levels(age: np.ndarray, handicap: np.ndarray, draws: np.random.Generator) -> np.ndarray:
    """Return (n, groups, latent) levels; a path to the right goes with hitting up across students too."""
    n, groups = age.size, len(GROUPS)
    rise = draws.normal(0, 1, (n, 1)) * 0.8 + draws.normal(0, 1, (n, groups)) * 0.6
    attack_sd = np.array([2.2, 1.5, 1.4, 1.3])
    level = np.zeros((n, groups, len(LATENT)))
    level[..., ATTACK] = GROUP_ATTACK + attack_sd * rise - 0.03 * (handicap[:, None] - 16)
    level[..., PATH] = (-0.8 + 1.2 * rise - 0.07 * (handicap[:, None] - 16)
                        + draws.normal(0, 1.7, (n, 1)) + draws.normal(0, 0.8, (n, groups)))  # fmt: skip
    level[..., FACE_TO_PATH] = (0.6 - 0.25 * level[..., PATH] + 0.05 * (handicap[:, None] - 16)
                                + draws.normal(0, 1.6, (n, 1)) + draws.normal(0, 0.6, (n, groups)))  # fmt: skip
    level[..., LOFT] = 0.35 * (level[..., ATTACK] - GROUP_ATTACK) + draws.normal(0, 1.5, (n, groups))
    level[..., SPEED] = _driver_speed(age, handicap, draws)[:, None]
    level[..., TOE] = draws.normal(1, 5, (n, 1)) + draws.normal(0, 2.5, (n, groups))
    level[..., HIGH] = draws.normal(-1, 4, (n, 1)) + draws.normal(0, 2.0, (n, groups))
    return level


def _spreads(handicap: np.ndarray, draws: np.random.Generator) -> np.ndarray:
    """Return (n, groups, latent) shot SDs: higher handicaps spread more, and people differ."""
    base = np.array([1.15, 1.5, 1.5, 1.1, 0.65, 6.0, 4.5])
    more = np.array([0.022, 0.035, 0.045, 0.022, 0.010, 0.16, 0.11])
    own = np.exp(draws.normal(0, 0.18, (handicap.size, 1, 1)))
    group = np.array([1.0, 0.95, 0.85, 0.8])[None, :, None]
    return (base + more * handicap[:, None, None]) * own * group


def invent_students(scenario: Scenario, seed: int) -> Students:
    """Draw the students of a scenario.

    Parameters
    ----------
    scenario : Scenario
        Gives the count and the sites.
    seed : int
        The same seed gives the same people.

    Returns
    -------
    Students
        Arrays of length ``scenario.students`` and the two reference tables.
    """
    draws, count = stream(seed, "students"), scenario.students
    age = _ages(count, draws)
    handicap = np.clip(draws.gamma(4.0, 4.5, count) + np.where(age < 14, 10, 0), 0.5, 45).round(1)
    share_low = 0.6 if len(scenario.sites) == 2 else float(scenario.sites[0] == "low")
    low, high = site_number("low"), site_number("high")
    home = np.where(np.arange(count) < round(share_low * count), low, high)
    travels = (draws.random(count) < 0.10) & (len(scenario.sites) == 2)
    left = (draws.random(count) < 0.11) | (np.arange(count) == 3)
    shot_sd = _spreads(handicap, draws)
    weeks = 14.0
    trend = draws.normal(0, 0.7, shot_sd.shape) * shot_sd / weeks
    better = np.zeros(len(LATENT))
    better[[ATTACK, SPEED]] = 0.35
    trend = trend + better * shot_sd / weeks * np.array([1.0, 0.5, 0.0, 0.0])[None, :, None]
    level = _levels(age, handicap, draws)
    second_half = draws.normal(0, 0.08, (count, len(LATENT))) * shot_sd.mean(axis=1)
    frame, enrolments = _tables(age, handicap, left, home, count, draws)
    return Students(frame, enrolments, home, travels, left, handicap, level, shot_sd, trend, second_half, age)


def _cohort(age: np.ndarray, handicap: np.ndarray) -> np.ndarray:
    by_skill = np.where(handicap < 10, "performance", np.where(handicap < 22, "improvers", "starters"))
    return np.where(age < 18, "juniors", np.where(age >= 60, "seniors", by_skill))


def _tables(age: np.ndarray, handicap: np.ndarray, left: np.ndarray, home: np.ndarray, count: int,
            draws: np.random.Generator) -> tuple[pl.DataFrame, pl.DataFrame]:  # fmt: skip
    ids = [f"{n:04d}" for n in draws.choice(np.arange(7, 2900), count, replace=False)]
    minor = age < 18
    consent = draws.random(count) >= np.where(minor, 0.15, 0.05)
    consent[1 % count] = False
    evidence = np.where(draws.random(count) < 0.06, "no", np.where(draws.random(count) < 0.3, "yes", ""))
    evidence[5 % count] = "no"
    evidence = np.where(consent, evidence, np.where(draws.random(count) < 0.2, "no", ""))
    cohort = _cohort(age, handicap)
    joined = [FIRST_DAY - timedelta(days=int(d)) for d in draws.integers(5, 900, count)]
    born = [FIRST_DAY - timedelta(days=int(years * 365.25)) for years in age]
    told = minor | (draws.random(count) < 0.8)
    frame = pl.DataFrame({
        "student_id": ids,
        "name": invent(count, draws),
        "handed": np.where(left, "left", "right"),
        "handicap": [f"{h:.1f}" if has else "" for h, has in zip(handicap, draws.random(count) < 0.9, strict=True)],
        "joined_on": [day.isoformat() for day in joined],
        "cohort": [str(c) if has else "" for c, has in zip(cohort, draws.random(count) < 0.96, strict=True)],
        "born_on": [day.isoformat() if has else "" for day, has in zip(born, told, strict=True)],
        "consent": np.where(consent, "yes", "no"),
        "consent_evidence": evidence,
    })  # fmt: skip
    return frame, _enrolments(ids, cohort, joined, draws)


def _enrolments(ids: list[str], cohort: np.ndarray, joined: list[date], draws: np.random.Generator) -> pl.DataFrame:
    """One row a student and term: autumn and winter until 22 February, spring from then on; some move up."""
    turn = date(2026, 2, 23)
    higher = {"starters": "improvers", "improvers": "performance"}
    moves = draws.random(len(ids)) < 0.15
    rows = []
    for student, group, since, up in zip(ids, cohort.tolist(), joined, moves, strict=True):
        rows.append((student, f"winter {group}", since.isoformat(), (turn - timedelta(days=1)).isoformat()))
        rows.append((student, f"spring {higher.get(group, group) if up else group}", turn.isoformat(), ""))
    return pl.DataFrame(rows, schema=["student_id", "cohort", "from_date", "to_date"], orient="row")


def planted_students(students: Students) -> pl.DataFrame:
    """Return one row a student, club group and delivery number: level, shot SD and trend a week, as planted."""
    ids = students.frame["student_id"].to_list()
    n, groups, numbers = students.level.shape
    level = students.level.copy()
    for group in range(groups):
        clubs = np.flatnonzero(group == CLUB_GROUP)[:1]
        level[:, group, LOFT] += CLUB_LOFT[clubs]
        level[:, group, SPEED] *= CLUB_SPEED_SHARE[clubs]
    return pl.DataFrame({
        "student_id": np.repeat(ids, groups * numbers),
        "site_id": np.repeat([SITES[home].site_id for home in students.home], groups * numbers),
        "club_group": np.tile(np.repeat(GROUPS, numbers), n),
        "club": np.tile(np.repeat([CLUBS[np.flatnonzero(g == CLUB_GROUP)[0]][0] for g in range(groups)], numbers), n),
        "metric": np.tile(LATENT, n * groups),
        "level": level.round(4).ravel(),
        "shot_sd": students.shot_sd.round(4).ravel(),
        "trend_per_week": students.trend.round(5).ravel(),
    })  # fmt: skip
