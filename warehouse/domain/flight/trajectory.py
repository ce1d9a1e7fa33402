"""Flight of a struck ball: how far it carries, how high, how long, where and how steeply it lands.

`fly` steps the equations of `flight_kernel` with a step that is coarse enough to be fast and fine enough to be right:
against an adaptive solver at 1e-10 the carry is within 0.1 yd for 99.9% of shots inside `LIMITS` (measured by
tests/benchmarks/flight.py). Shots outside `LIMITS` are integrated with steps of `FINE_STEP`. Importing this module is
cheap; numba is brought in by the first call. Not here: how the ball got its launch (delivery), what air it flies
through (air).

The model is fitted to driver-like launches: it is good for differences for one player, not a promise of yards
(published coefficient sets spread over some 60 yd for one launch), and irons and wedges are outside its measured range.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from warehouse.domain.flight.constants import (
    AIR_VISCOSITY,
    GRAVITY,
    MASS,
    RADIANS_PER_SECOND_PER_RPM,
    RADIUS,
    STANDARD_DENSITY,
)

LIMITS: dict[str, tuple[float, float]] = {
    "ball_speed": (20.0, 90.0),
    "launch_angle": (2.0, 45.0),
    "launch_direction": (-10.0, 10.0),
    "spin_rate": (500.0, 11000.0),
    "spin_axis": (-25.0, 25.0),
    "air_density": (0.95, 1.30),
    "drag_factor": (0.8, 1.2),
    "lift_factor": (0.8, 1.2),
}
"""Where the fast steps are tested; outside them shots are integrated finely."""
FIRST_STEP, LONGER_STEP, MOST_STEPS = 0.2, 0.002, 600
FINE_STEP, MOST_FINE_STEPS = 0.02, 5000
CHUNK = 32768
"""Shots prepared at a time, so that memory stays small whatever the number of shots."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Flight:
    """Arrays of one shape; see `fly`."""

    carry: Floats
    lateral: Floats
    apex: Floats
    flight_time: Floats
    descent_angle: Floats


class Shots(NamedTuple):
    """The inputs of `fly` in order, each an array of n shots or a single number."""

    ball_speed: Any
    launch_angle: Any
    launch_direction: Any
    spin_rate: Any
    spin_axis: Any
    air_density: Any
    drag_factor: Any
    lift_factor: Any


def fly(
    *,
    ball_speed: ArrayLike,
    launch_angle: ArrayLike,
    launch_direction: ArrayLike = 0.0,
    spin_rate: ArrayLike,
    spin_axis: ArrayLike = 0.0,
    air_density: ArrayLike = STANDARD_DENSITY,
    drag_factor: ArrayLike = 1.0,
    lift_factor: ArrayLike = 1.0,
    engine: str | None = None,
) -> Flight:
    """Return the flight of each shot over level ground without wind.

    Parameters
    ----------
    ball_speed, launch_angle, launch_direction, spin_rate, spin_axis : array_like
        m/s, deg, deg (right +), rpm, deg (tilted right +); any shapes that broadcast.
    air_density : array_like
        kg/m^3; 0 is a vacuum.
    drag_factor, lift_factor : array_like
        Multiply the coefficients of drag and lift: for the spread between published coefficient sets.
    engine : {"numba", "numpy"}, optional
        The compiled loop or the plain one; the default takes numba where it is installed.

    Returns
    -------
    Flight
        `carry` (m, from the ball to where it lands), `lateral` (m, right +), `apex` (m), `flight_time` (s),
        `descent_angle` (deg under the horizon). NaN where any input is NaN, a ball speed is not above 0, or a spin
        rate, density or factor is below 0. A ball that starts level or downward carries 0.

    Raises
    ------
    ValueError
        If shapes do not broadcast or the engine is unknown.
    """
    given = (ball_speed, launch_angle, launch_direction, spin_rate, spin_axis, air_density, drag_factor, lift_factor)
    arrays = [np.asarray(value, dtype=np.float64) for value in given]
    shape = np.broadcast_shapes(*(array.shape for array in arrays))
    flat = [array.reshape(-1) if array.size == 1 else np.broadcast_to(array, shape).reshape(-1) for array in arrays]
    size = int(np.prod(shape, dtype=np.int64))
    result = np.full((5, size), np.nan)
    run = chosen(engine)
    for start in range(0, size, CHUNK):
        part = slice(start, min(start + CHUNK, size))
        fly_chunk(Shots(*(a if a.size == 1 and size != 1 else a[part] for a in flat)), result[:, part], run)
    return Flight(*(row.reshape(shape) for row in result))


def chosen(engine: str | None) -> Any:
    """Return the function that flies prepared shots."""
    if engine not in {None, "numba", "numpy"}:
        raise ValueError(f"engine must be 'numba' or 'numpy', not {engine!r}")
    from warehouse.domain.flight import kernel, kernel_numpy

    if engine == "numba" and kernel.njit is None:
        raise ValueError("numba is not installed")
    if engine == "numpy" or kernel.njit is None:
        return kernel_numpy.fly_arrays
    return kernel.fly_lanes_compiled


def fly_chunk(shots: Shots, result: Floats, run: Any) -> None:
    """Fill `result` (5, n) for one chunk; each shot is stepped coarsely, finely, or not at all."""
    n = result.shape[1]
    whole = np.ones(n, dtype=bool)
    for value in shots:
        whole &= np.isfinite(value)
    with np.errstate(invalid="ignore"):
        whole &= (shots.ball_speed > 0) & (shots.spin_rate >= 0) & (shots.air_density >= 0)
        whole &= (shots.drag_factor >= 0) & (shots.lift_factor >= 0)
        rising = np.broadcast_to(shots.launch_angle > 0, n)
        coarse = whole & rising
        for value, (low, high) in zip(shots, LIMITS.values(), strict=True):
            coarse &= (value >= low) & (value <= high)
    fine = whole & rising & ~coarse
    grounded = whole & ~rising
    if grounded.any():
        result[:4, grounded] = 0.0
        result[4, grounded] = -np.broadcast_to(shots.launch_angle, n)[grounded]
    for chosen_shots, steps in (
        (coarse, (FIRST_STEP, LONGER_STEP, MOST_STEPS)),
        (fine, (FINE_STEP, 0.0, MOST_FINE_STEPS)),
    ):
        count = int(chosen_shots.sum())
        if count == n:
            result[:] = landed(shots, n, steps, run)
        elif count:
            picked = Shots(*(value if value.size == 1 else value[chosen_shots] for value in shots))
            result[:, chosen_shots] = landed(picked, count, steps, run)


def landed(shots: Shots, n: int, steps: tuple[float, float, int], run: Any) -> Floats:
    """Return carry, lateral, apex, flight time and descent angle (5, n) of shots that rise."""
    out = np.empty((7, n))
    run(prepared(shots, n), out, *steps, GRAVITY)
    x, z, apex, time, vx, vy, vz = out
    return np.stack([np.hypot(x, z), z, apex, time, np.degrees(np.arctan2(-vy, np.hypot(vx, vz)))])


def prepared(shots: Shots, n: int) -> Floats:
    """Return the kernel's input fields (12, n): velocity, rim speed, spin axis, and the air's constants."""
    up, right, tilt = np.radians(shots.launch_angle), np.radians(shots.launch_direction), np.radians(shots.spin_axis)
    sin_up, cos_up, sin_right, cos_right = np.sin(up), np.cos(up), np.sin(right), np.cos(right)
    sin_tilt, cos_tilt = np.sin(tilt), np.cos(tilt)
    fields = np.empty((12, n))
    fields[0] = shots.ball_speed * cos_up * cos_right
    fields[1] = shots.ball_speed * sin_up
    fields[2] = shots.ball_speed * cos_up * sin_right
    fields[3] = shots.spin_rate * (RADIANS_PER_SECOND_PER_RPM * RADIUS)
    # At right angles to the launch velocity: level and to the right; tilted right, its right end is down.
    fields[4] = -cos_tilt * sin_right + sin_tilt * sin_up * cos_right
    fields[5] = -sin_tilt * cos_up
    fields[6] = cos_tilt * cos_right + sin_tilt * sin_up * sin_right
    pressure = shots.air_density * (0.5 * np.pi * RADIUS**2 / MASS)
    fields[7] = pressure * shots.drag_factor
    fields[8] = pressure * shots.lift_factor
    fields[9] = np.maximum(shots.air_density, 1e-9) * (2.0 * RADIUS / AIR_VISCOSITY / 1e5)
    fields[10] = 1.0 / fields[9]
    fields[11] = shots.air_density * (2.0e-5 / RADIUS / STANDARD_DENSITY)
    return fields
