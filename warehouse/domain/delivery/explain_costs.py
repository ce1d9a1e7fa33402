"""What a delivery costs in carry and sideways, as numbers: all deliveries at once, two flights of the whole lot.

Costs are differences of the model between this delivery and a better one at the same club speed. Not here: how they
are put into words (reading).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from warehouse.domain.delivery.impact import MEASURED_SPIN_SHARE, Launch, launch
from warehouse.domain.delivery.reachable_carry import Reach, best_over_loft
from warehouse.domain.flight.trajectory import fly

Floats = NDArray[np.float64]

CARRY_NEEDS = ("club_speed", "attack_angle", "dynamic_loft", "ball_speed", "launch_angle", "spin_rate")
DIRECTION_NEEDS = ("club_path", "face_angle", "launch_direction", "spin_axis")
NEEDS = (*CARRY_NEEDS, *DIRECTION_NEEDS)
"""Metrics that a reading looks at, canonical units, left-handers mirrored."""


@dataclass(frozen=True)
class CarryCosts:
    """Steps from the best reachable delivery to the measured launch, m, NaN from the first that was not measured.

    attack (the best loft at each), loft at that attack, strike (ball speed), launch and spin beyond the delivery.
    All together they are the best carry less the model's carry of the measured launch flown straight. `suited_loft`
    (deg) is the best at this attack angle, `model` the launch that this delivery gives when struck in the middle.
    """

    attack: Floats
    loft: Floats
    strike: Floats
    launch: Floats
    spin: Floats
    suited_loft: Floats
    model: Launch


def carry_costs(values: Mapping[str, Floats], air_density: ArrayLike, attack_high: ArrayLike) -> CarryCosts:
    """Return what n driver deliveries cost in carry.

    Parameters
    ----------
    values : mapping
        `CARRY_NEEDS` -> arrays (n,), NaN where not measured.
    air_density, attack_high : array_like
        kg/m^3 and the most upward attack angle within reach, deg: one number, or one a delivery. A delivery above its
        reach is taken as reachable.
    """
    speed, attack, loft, ball, angle, spin = (values[name] for name in CARRY_NEEDS)
    density = np.broadcast_to(np.asarray(air_density, dtype=np.float64), speed.shape)
    reach = np.fmax(attack, attack_high)
    (top, here), (_, suited) = best_over_loft(speed, density, np.stack([reach, attack]), Reach())
    model = launch(speed, attack, 0.0, 0.0, loft, spin_share=MEASURED_SPIN_SHARE)
    given, struck, launched, spun = fly(
        ball_speed=np.stack([model.ball_speed, ball, ball, ball]),
        launch_angle=np.stack([model.launch_angle, model.launch_angle, angle, angle]),
        spin_rate=np.stack([model.spin_rate, model.spin_rate, model.spin_rate, spin]),
        air_density=density,
    ).carry  # fmt: skip
    steps = [top - here, here - given, given - struck, struck - launched, launched - spun]
    steps[3:] = [np.where(np.isfinite(steps[4]), step, np.nan) for step in steps[3:]]
    known = np.isfinite(speed) & np.isfinite(attack)
    for at, step in enumerate(steps):
        known = known & np.isfinite(step)
        steps[at] = np.where(known, step, np.nan)
    attack_step, loft_step, strike_step, launch_step, spin_step = steps
    return CarryCosts(attack_step, loft_step, strike_step, launch_step, spin_step, suited, model)


def sideways(values: Mapping[str, Floats], air_density: ArrayLike) -> tuple[Floats, Floats]:
    """Return where n balls land by their start alone, and what their curve adds (m, right +), NaN where not measured.

    `values` maps ball_speed, launch_angle, launch_direction, spin_rate and spin_axis to arrays (n,).
    """
    ball, angle, start, spin, axis = (
        values[name] for name in ("ball_speed", "launch_angle", "launch_direction", "spin_rate", "spin_axis")
    )
    straight, whole = fly(
        ball_speed=ball, launch_angle=angle, launch_direction=start, spin_rate=spin,
        spin_axis=np.stack([np.zeros_like(axis), axis]), air_density=air_density,
    ).lateral  # fmt: skip
    curve = whole - straight
    return np.where(np.isfinite(curve), straight, np.nan), curve
