"""From a delivery to the ball: speed, launch, spin, carry, by plain formulas of this module's own.

Carry is a surrogate: the log of carry as a quadratic in the logs of ball speed, launch angle and spin, fitted to
trajectories integrated with published drag and lift coefficients (US patent 6,186,002 B1, extended); median error
about 2 m over the range hit here. Made data only: it says nothing about real balls.
"""

from __future__ import annotations

import numpy as np

from demo_data.academy import ATTACK, FACE_TO_PATH, HIGH, LOFT, PATH, SPEED, TOE

CARRY = {
    (0, 0, 0): 4.9684, (0, 0, 1): 0.0714, (0, 0, 2): -0.0891, (0, 1, 0): 0.2334, (0, 1, 1): -0.2947,
    (0, 2, 0): -0.0583, (1, 0, 0): 1.5607, (1, 0, 1): -0.2567, (1, 1, 0): -0.4586, (2, 0, 0): -0.524,
}  # fmt: skip
"""Powers of log(ball speed / 50), log(launch / 15), log(spin / 3000) -> coefficient."""
THIN_AIR, THIN_AIR_SPEED = -0.2427, -0.167
SEA_LEVEL = 1.225
RANGE_BALL = 0.95
DEVICE_RANGE = {
    "club_speed": (6.0, 68.0), "attack_angle": (-14.5, 14.5), "club_path": (-24.0, 24.0), "face_angle": (-29.0, 29.0),
    "dynamic_loft": (-4.0, 74.0), "launch_angle": (-9.0, 75.0), "launch_direction": (-43.0, 43.0),
    "ball_speed": (4.0, 95.0), "spin_rate": (300.0, 14000.0), "spin_axis": (-85.0, 85.0), "carry": (1.0, 350.0),
    "lateral": (-140.0, 140.0), "impact_toe": (-43.0, 43.0), "impact_high": (-33.0, 33.0),
}  # fmt: skip
"""What an invented device can show; all of it well inside what the input contract allows."""


def carry(ball_speed: np.ndarray, launch_angle: np.ndarray, spin_rate: np.ndarray, density: np.ndarray) -> np.ndarray:
    """Return carry in m from ball speed (m/s), launch angle (deg), spin (rpm) and air density (kg/m^3)."""
    x = np.log(np.maximum(ball_speed, 8) / 50)
    y = np.log(np.clip(launch_angle, 2.0, 50) / 15)
    z = np.log(np.clip(spin_rate, 800, 9500) / 3000)
    log_carry = sum(c * x**i * y**j * z**k for (i, j, k), c in CARRY.items())
    thin = density / SEA_LEVEL - 1
    return np.exp(log_carry + thin * (THIN_AIR + THIN_AIR_SPEED * x)) * np.clip((launch_angle + 6) / 8, 0.1, 1)


def strike(delivery: np.ndarray, mishit: np.ndarray, density: np.ndarray, range_ball: np.ndarray,
           draws: np.random.Generator) -> dict[str, np.ndarray]:  # fmt: skip
    """Return every measured number of each shot, true values in the golfer's own frame.

    Parameters
    ----------
    delivery : ndarray, shape (n, latent)
        Canonical units, in to out and open plus.
    mishit, density, range_ball : ndarray, shape (n,)
        Whether contact was lost; kg/m^3; whether a range ball was hit.
    draws : Generator
        Source of the spread that delivery does not explain.

    Returns
    -------
    dict of str to ndarray
        The canonical shot columns but time, student and club.
    """
    n = len(delivery)
    attack, path, loft, speed = (delivery[:, k] for k in (ATTACK, PATH, LOFT, SPEED))
    face, to_path, toe, high = path + delivery[:, FACE_TO_PATH], delivery[:, FACE_TO_PATH], delivery[:, TOE], \
        delivery[:, HIGH]  # fmt: skip
    speed = np.maximum(speed, 8.0)
    spin_loft = np.clip(loft - attack, 2.0, 75.0)
    off_centre = 1 - 1.2e-4 * toe**2 - 1.6e-4 * high**2
    smash = 1.505 * np.cos(np.radians(0.88 * spin_loft)) * np.clip(off_centre, 0.7, 1) + draws.normal(0, 0.012, n)
    smash = np.clip(smash, 0.62, 1.52) * np.where(mishit, draws.uniform(0.3, 0.7, n), 1.0)
    ball_speed = smash * speed * np.where(range_ball, 0.985, 1.0)
    launch = 0.85 * loft + 0.15 * attack + 0.06 * high + draws.normal(0, 0.6, n)
    launch = np.where(mishit, launch * draws.uniform(0.0, 1.6, n), launch)
    direction = 0.75 * face + 0.25 * path + draws.normal(0, 0.5, n) + np.where(mishit, draws.normal(0, 8, n), 0)
    spin = 285 * speed * np.sin(np.radians(spin_loft)) * (1 - 0.008 * high) * np.exp(draws.normal(0, 0.05, n))
    axis = np.degrees(np.arctan2(0.9 * to_path, spin_loft)) - 0.25 * toe * 14 / np.maximum(spin_loft, 10)
    axis = axis + draws.normal(0, 1.0, n)
    distance = carry(ball_speed, launch, spin, density) * np.where(range_ball, RANGE_BALL, 1.0)
    bend = -0.0033 - 0.0453 * ball_speed / 50 + spin / 3000 * (0.422 * ball_speed / 50 - 0.1715) + 0.0884 * launch / 15
    lateral = distance * (np.sin(np.radians(direction)) + np.clip(bend, 0, 0.6) * np.sin(np.radians(axis)))
    return {
        "club_speed": speed, "attack_angle": attack, "club_path": path, "face_angle": face, "dynamic_loft": loft,
        "ball_speed": ball_speed, "launch_angle": launch, "launch_direction": direction, "spin_rate": spin,
        "spin_axis": axis, "carry": distance, "lateral": lateral, "impact_toe": toe, "impact_high": high,
    }  # fmt: skip


def within_device_range(numbers: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Return the numbers held to what a device can show."""
    return {name: np.clip(value, *DEVICE_RANGE[name]) for name, value in numbers.items()}
