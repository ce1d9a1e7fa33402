"""Who and what: the invented coast, its two sites, bays, coaches, clubs, and how big a scenario is.

Not here: people who take lessons (students.py), drills (drills.py), what happens on a day (timetable.py).
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

FIRST_DAY = date(2026, 1, 5)
"""A Monday. The full term holds the start of summer time on 8 March in both zones."""


@dataclass(frozen=True)
class Site:
    """One place of the academy; opening and closing are local hours."""

    site_id: str
    name: str
    timezone: str
    altitude_m: int
    air_density: float
    opens: int
    closes: int


SITES = (
    Site("low", "Ambrel Sands", "America/Halifax", 9, 1.2240, 8, 21),
    Site("high", "Tarnost Ridge", "America/St_Johns", 1180, 1.0918, 8, 20),
)

COACHES = (
    ("k1", "Ilka Vandreth", "low"),
    ("k2", "Torum Besk", "low"),
    ("k3", "Senna Orlowin", "low"),
    ("k4", "Dorrit Malk", "low"),
    ("k5", "Pavo Lindeskar", "high"),
    ("k6", "Yara Quellmont", "high"),
    ("k7", "Emmet Sorvald", "high"),
)
"""coach_id, name, home site."""

_PROFILE_ROUND = ("kueste", "rivage", "polder", "plain-si", "enseada", "yardage")
_BALL_ROUND = ("range", "premium", "range", "premium")

BAYS = tuple(
    (
        f"{n:02d}",
        "low" if n <= 14 else "high",
        _PROFILE_ROUND[(n - 1) % 6],
        "indoor" if n % 3 == 0 else "outdoor",
        _BALL_ROUND[(n // 6) % 4],
    )
    for n in range(1, 25)
)
"""bay_id, site_id, export_profile, setting, ball."""

CLUBS = (
    ("driver", "driver"),
    ("iron-7", "iron"),
    ("wedge-pitching", "wedge"),
    ("hybrid-4", "wood"),
    ("iron-9", "iron"),
    ("wood-3", "wood"),
    ("wedge-sand", "wedge"),
)
"""Clubs hit at the academy and their group; position in this tuple is the club's number in arrays."""

DRIVER, IRON_7, PITCHING, HYBRID_4, IRON_9, WOOD_3, SAND = range(7)
GROUPS = ("driver", "wood", "iron", "wedge")
CLUB_GROUP = np.array([GROUPS.index(group) for _, group in CLUBS])
"""Club number -> group number."""

LATENT = ("attack_angle", "club_path", "face_to_path", "dynamic_loft", "club_speed", "impact_toe", "impact_high")
"""The numbers of a delivery that are drawn; face angle and the ball numbers follow from them."""

ATTACK, PATH, FACE_TO_PATH, LOFT, SPEED, TOE, HIGH = range(7)


@dataclass(frozen=True)
class Scenario:
    """How big the invented term is.

    `sites` are the sites that play; `bays` the bays of those sites that report; `weekly_sessions` how often a student
    comes, on average.
    """

    name: str
    sites: tuple[str, ...]
    bays: tuple[str, ...]
    students: int
    days: int
    weekly_sessions: float
    groups_a_day: float = 1.2

    @property
    def last_day(self) -> date:
        """The last operating day."""
        return FIRST_DAY + timedelta(days=self.days - 1)


FULL = Scenario("full", ("low", "high"), tuple(bay[0] for bay in BAYS), 160, 98, 2.7)
SMALL = Scenario("small", ("high",), tuple(bay[0] for bay in BAYS if bay[1] == "high"), 66, 28, 2.4, 0.8)
SAMPLE = Scenario("sample", ("low",), ("01", "02", "03", "04", "05", "06"), 18, 7, 6.0)


def stream(seed: int, purpose: str) -> np.random.Generator:
    """Return the random stream of one purpose, so that a change in one part leaves the others' draws alone."""
    return np.random.default_rng([seed, zlib.crc32(purpose.encode())])


def site_number(site_id: str) -> int:
    """Return the position of a site in `SITES`."""
    return next(n for n, site in enumerate(SITES) if site.site_id == site_id)
