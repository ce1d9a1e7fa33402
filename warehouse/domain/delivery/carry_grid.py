"""Carry over a grid of deliveries, and the line of best carry against attack angle at one club speed.

Not here: the table and the chart that show them.
"""

from __future__ import annotations

import numpy as np
import polars as pl
from numpy.typing import ArrayLike

from warehouse.domain.delivery.impact import MEASURED_SPIN_SHARE, launch
from warehouse.domain.delivery.reachable_carry import Reach, best_over_loft
from warehouse.domain.flight.constants import STANDARD_DENSITY
from warehouse.domain.flight.trajectory import fly
from warehouse.schema.metrics import MS_PER_MPH

COEFFICIENT_SETS = ((1.12, 0.88), (0.89, 1.11), (0.88, 0.88), (1.12, 1.12))
"""Drag and lift factors that stand for other published coefficient sets: the first two carry a launch of 176 mph, 10°,
2520 rpm about 244 and 312 yd, the spread of published sets; the others move drag and lift together."""
CLUB_SPEEDS = tuple(MS_PER_MPH * mph for mph in range(60, 131, 5))
ATTACK_ANGLES = tuple(float(angle) for angle in range(-8, 9))
DYNAMIC_LOFTS = tuple(float(loft) for loft in range(4, 31))


def carry_by_delivery(
    club_speed: ArrayLike = CLUB_SPEEDS,
    attack_angle: ArrayLike = ATTACK_ANGLES,
    dynamic_loft: ArrayLike = DYNAMIC_LOFTS,
    *,
    air_density: float = STANDARD_DENSITY,
    spin_share: float = MEASURED_SPIN_SHARE,
) -> pl.DataFrame:
    """Return one row for each club speed (m/s), attack angle and dynamic loft (deg), with a driver and a square face.

    Columns: club_speed, attack_angle, dynamic_loft, ball_speed, launch_angle, spin_rate, carry (canonical units).
    """
    axes = (np.atleast_1d(np.asarray(axis, dtype=np.float64)) for axis in (club_speed, attack_angle, dynamic_loft))
    speed, attack, loft = (grid.ravel() for grid in np.meshgrid(*axes, indexing="ij"))
    ball = launch(speed, attack, 0.0, 0.0, loft, spin_share=spin_share)
    carry = fly(
        ball_speed=ball.ball_speed, launch_angle=ball.launch_angle, spin_rate=ball.spin_rate,
        spin_axis=ball.spin_axis, air_density=air_density,
    ).carry  # fmt: skip
    return pl.DataFrame(
        {
            "club_speed": speed, "attack_angle": attack, "dynamic_loft": loft, "ball_speed": ball.ball_speed,
            "launch_angle": ball.launch_angle, "spin_rate": ball.spin_rate, "carry": carry,
        }
    )  # fmt: skip


def best_carry_by_attack(
    club_speed: float,
    own_attack: float,
    attack_angle: ArrayLike = ATTACK_ANGLES,
    *,
    air_density: float = STANDARD_DENSITY,
    reach: Reach | None = None,
) -> pl.DataFrame:
    """Return the line of best carry against attack angle at one club speed, with the model's uncertainty.

    The uncertainty is of differences from the player's own attack angle, since that is what the model is good for:
    each of `COEFFICIENT_SETS` draws its own line, and the band holds all of them after they are laid on one another
    at `own_attack`, where it has no width. It says nothing of the impact model's own error.

    Parameters
    ----------
    club_speed, own_attack : float
        m/s, deg.
    attack_angle : array_like
        Angles of the line, deg.
    reach : Reach, optional
        Restitution, spin share, lofts and ball factor; the driver's unless given.

    Returns
    -------
    polars.DataFrame
        attack_angle, dynamic_loft (deg, the best at that attack), carry, carry_low, carry_high, carry_change (carry
        less that at own_attack), all in m.
    """
    reach = Reach() if reach is None else reach
    angles = np.append(np.asarray(attack_angle, dtype=np.float64), own_attack)
    carry, loft = best_over_loft(club_speed, air_density, angles, reach)
    others = np.stack([best_over_loft(club_speed, air_density, angles, reach, *set_)[0] for set_ in COEFFICIENT_SETS])
    changes = np.concatenate([others, carry[None, :]]) - np.append(others[:, -1], carry[-1])[:, None]
    line = pl.DataFrame(
        {
            "attack_angle": angles, "dynamic_loft": loft, "carry": carry, "carry_low": carry[-1] + changes.min(axis=0),
            "carry_high": carry[-1] + changes.max(axis=0), "carry_change": changes[-1],
        }
    )  # fmt: skip
    return line[:-1]
