"""What golfers' shots usually come to, by club: typical values with wide spreads, to tell units and columns apart.

Middling amateurs and good players alike lie within the spreads. From memory, common practice, no source: nothing is
computed from these numbers; they only tell readings apart that differ by far more. Not here: comparing (physics.py).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LOFT = {
    "driver": 10.5, "wood-3": 15.0, "wood-5": 18.0, "wood-7": 21.0, "hybrid-2": 17.0, "hybrid-3": 19.0,
    "hybrid-4": 22.0, "hybrid-5": 25.0, "hybrid-6": 28.0, "iron-1": 16.0, "iron-2": 18.0, "iron-3": 21.0,
    "iron-4": 24.0, "iron-5": 27.0, "iron-6": 30.0, "iron-7": 33.0, "iron-8": 37.0, "iron-9": 41.0,
    "wedge-pitching": 46.0, "wedge-gap": 51.0, "wedge-sand": 56.0, "wedge-lob": 60.0,
}  # fmt: skip
"""Static loft by club, degrees."""
LOFTS = (10.5, 15.0, 21.0, 27.0, 33.0, 41.0, 46.0, 56.0, 60.0)
UNKNOWN_LOFT, UNKNOWN_WIDER = 27.0, 1.7
"""Where the club is not known: a middle iron, with this much more spread."""


@dataclass(frozen=True)
class Typical:
    """A metric's middle at each of LOFTS, canonical units, and how far golfers and shots lie from it.

    `ratio`: spreads are of the logarithm.
    """

    middle: tuple[float, ...]
    between: float
    within: float
    ratio: bool = False


ZERO = (0.0,) * len(LOFTS)
TYPICAL: dict[str, Typical] = {
    "club_speed": Typical((41, 39, 37, 35.5, 34, 32.5, 31.5, 30, 29), 0.15, 0.07, ratio=True),
    "ball_speed": Typical((59, 55, 51, 48, 45, 41, 38, 32.5, 30), 0.17, 0.10, ratio=True),
    "launch_angle": Typical((12.5, 12, 14.5, 16.5, 19, 23, 26, 31, 33), 4.0, 3.0),
    "dynamic_loft": Typical((14, 15, 19, 22, 26, 32, 36, 42, 45), 4.5, 3.0),
    "spin_rate": Typical((2800, 3600, 4600, 5300, 6500, 8000, 8800, 9600, 9800), 0.25, 0.20, ratio=True),
    "attack_angle": Typical((0, -2, -3, -3.5, -4, -4.5, -5, -5, -5), 2.8, 2.2),
    "club_path": Typical(ZERO, 3.5, 3.0),
    "face_angle": Typical(ZERO, 2.5, 3.0),
    "launch_direction": Typical(ZERO, 2.0, 2.6),
    "spin_axis": Typical(ZERO, 5.0, 7.0),
    "carry": Typical((185, 170, 155, 143, 131, 115, 104, 80, 70), 0.27, 0.15, ratio=True),
    "lateral": Typical(ZERO, 7.0, 10.0),
    "impact_toe": Typical(ZERO, 5.0, 9.0),
    "impact_high": Typical(ZERO, 4.0, 7.0),
}
SMASH = Typical((1.45, 1.43, 1.40, 1.37, 1.33, 1.27, 1.22, 1.10, 1.04), 0.06, 0.05, ratio=True)
AIR = {"air_temperature": (18.0, 12.0), "air_pressure": (990.0, 60.0), "air_humidity": (55.0, 25.0)}
"""Air: middle and spread."""


def lofts_of(clubs: Sequence[str | None]) -> Floats:
    """Return each shot's static loft; nan where its club is not known."""
    return np.array([LOFT.get(club or "", np.nan) for club in clubs])


def middles(typical: Typical, lofts: Floats) -> tuple[Floats, Floats]:
    """Return (middle, factor on the spreads) of a metric for each shot."""
    known = np.isfinite(lofts)
    at = np.where(known, lofts, UNKNOWN_LOFT)
    return np.interp(at, LOFTS, typical.middle), np.where(known, 1.0, UNKNOWN_WIDER)
