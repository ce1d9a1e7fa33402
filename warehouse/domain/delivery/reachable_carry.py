"""What a club speed could carry: the best carry over a stated, reachable delivery.

Reachable with a driver: attack up to `attack_high` (5° up unless set), the dynamic loft that suits it within
`LOFT_RANGE`, a centred strike, spin from the delivery. The answer is a smooth function of club speed and air density,
so it is tabulated once for each limit and read from the table; tests hold what reading the table adds to under 0.05 yd.
Not here: which club groups have a reachable range (shot_columns).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from warehouse.domain.delivery.impact import DRIVER_RESTITUTION, MEASURED_SPIN_SHARE, launch
from warehouse.domain.flight.constants import STANDARD_DENSITY
from warehouse.domain.flight.trajectory import fly
from warehouse.schema.metrics import METRIC

Floats = NDArray[np.float64]

ATTACK_HIGH = 5.0
"""Attack angle (deg, up +) that a student can learn to reach with a driver: common practice, no source."""
LOFT_RANGE = (5.0, 30.0)
"""Dynamic lofts (deg) within reach with a driver."""
DENSITY_RANGE = (0.70, 1.40)
"""Air densities of the table, kg/m^3; outside them the answer is NaN."""
SPEED_KNOTS, DENSITY_KNOTS, LOFT_STEP = 1.0, 0.05, 0.5
SPEED_CELL, DENSITY_CELL = 0.1, 0.01


@dataclass(frozen=True)
class Reach:
    """One reachable delivery: hashable, so that its table is made once."""

    attack_high: float = ATTACK_HIGH
    loft_low: float = LOFT_RANGE[0]
    loft_high: float = LOFT_RANGE[1]
    restitution: float = DRIVER_RESTITUTION
    spin_share: float = MEASURED_SPIN_SHARE
    ball_factor: float = 1.0


def best_over_loft(
    club_speed: ArrayLike,
    air_density: ArrayLike,
    attack_angle: ArrayLike,
    reach: Reach,
    drag_factor: float = 1.0,
    lift_factor: float = 1.0,
) -> tuple[Floats, Floats]:
    """Return the best carry (m) and the dynamic loft (deg) that gives it, by flying every loft of the range.

    `club_speed`, `air_density`, `attack_angle` broadcast to the shape of the answer; `reach.attack_high` is not used.
    """
    given = (club_speed, air_density, attack_angle)
    speed, density, attack = np.broadcast_arrays(*(np.asarray(value, dtype=np.float64) for value in given))
    loft = np.arange(reach.loft_low, reach.loft_high + 1e-9, LOFT_STEP)
    ball = launch(
        speed[..., None], attack[..., None], 0.0, 0.0, loft,
        restitution=reach.restitution, spin_share=reach.spin_share, ball_factor=reach.ball_factor,
    )  # fmt: skip
    carry = fly(
        ball_speed=ball.ball_speed, launch_angle=ball.launch_angle, spin_rate=ball.spin_rate, spin_axis=ball.spin_axis,
        air_density=density[..., None], drag_factor=drag_factor, lift_factor=lift_factor,
    ).carry  # fmt: skip
    at = np.clip(np.nan_to_num(carry, nan=-1.0).argmax(axis=-1), 1, loft.size - 2)[..., None]
    before, here, after = (np.take_along_axis(carry, at + step, axis=-1)[..., 0] for step in (-1, 0, 1))
    # The parabola through the best loft and its neighbours; held inside them, so that an end of the range stays one.
    curve = np.minimum(before - 2.0 * here + after, -1e-12)
    shift = np.clip(0.5 * (before - after) / curve, -1.0, 1.0)
    best = here + 0.5 * (after - before) * shift + 0.5 * curve * shift**2
    return best, loft[at[..., 0]] + shift * LOFT_STEP


@lru_cache(maxsize=256)
def table(reach: Reach) -> Floats:
    """Return best carries (m) on the fine grid of club speed and air density for one reachable delivery."""
    from scipy.interpolate import RectBivariateSpline

    low, high = METRIC["club_speed"].low, METRIC["club_speed"].high
    speeds = np.arange(low, high + SPEED_KNOTS / 2, SPEED_KNOTS)
    densities = np.arange(DENSITY_RANGE[0], DENSITY_RANGE[1] + DENSITY_KNOTS / 2, DENSITY_KNOTS)
    knots, _ = best_over_loft(speeds[:, None], densities[None, :], reach.attack_high, reach)
    fine_speeds = low + SPEED_CELL * np.arange(round((high - low) / SPEED_CELL) + 1)
    count = round((DENSITY_RANGE[1] - DENSITY_RANGE[0]) / DENSITY_CELL) + 1
    fine_densities = DENSITY_RANGE[0] + DENSITY_CELL * np.arange(count)
    return RectBivariateSpline(speeds, densities, knots)(fine_speeds, fine_densities)


def read_table(grid: Floats, club_speed: Floats, air_density: Floats) -> Floats:
    """Return the table's value at each club speed and density, between its points in straight lines; NaN outside."""
    low = METRIC["club_speed"].low
    u = (club_speed - low) / SPEED_CELL
    v = (air_density - DENSITY_RANGE[0]) / DENSITY_CELL
    rows, columns = grid.shape
    inside = (u >= 0) & (u <= rows - 1) & (v >= -1e-9) & (v <= columns - 1 + 1e-9)
    u, v = np.where(inside, u, 0.0), np.where(inside, v, 0.0)
    i, j = np.minimum(u.astype(np.int64), rows - 2), np.minimum(v.astype(np.int64), columns - 2)
    u, v = u - i, v - j
    at, flat = i * columns + j, grid.ravel()
    low_speed = flat[at] * (1 - v) + flat[at + 1] * v
    high_speed = flat[at + columns] * (1 - v) + flat[at + columns + 1] * v
    return np.where(inside, low_speed * (1 - u) + high_speed * u, np.nan)


def carry_available(
    club_speed: ArrayLike,
    *,
    air_density: ArrayLike = STANDARD_DENSITY,
    attack_high: ArrayLike = ATTACK_HIGH,
    ball_factor: ArrayLike = 1.0,
    loft_range: tuple[float, float] = LOFT_RANGE,
    restitution: float = DRIVER_RESTITUTION,
    spin_share: float = MEASURED_SPIN_SHARE,
) -> Floats:
    """Return the best carry (m) that each club speed could give with a driver.

    Parameters
    ----------
    club_speed, air_density : array_like
        m/s, kg/m^3; shapes that broadcast. NaN, or outside the metric's limits or `DENSITY_RANGE`, gives NaN.
    attack_high : array_like
        The most upward attack angle within reach (deg), to 0.1°; one number, or one a shot (a student's own).
    ball_factor : array_like
        Ball speed over that of a premium ball (an assumption for range balls), to 0.001.
    loft_range : tuple of float
        Least and greatest dynamic loft within reach, deg.
    restitution, spin_share : float
        As in `delivery.launch`.
    """
    given = (club_speed, air_density, attack_high, ball_factor)
    speed, density, attack, factor = np.broadcast_arrays(*(np.asarray(v, dtype=np.float64) for v in given))
    result = np.full(speed.shape, np.nan)
    known = np.isfinite(speed) & np.isfinite(density) & np.isfinite(attack) & np.isfinite(factor)
    # One whole number for each pair of limit (0.1°) and ball factor (0.001), since few differ in a night.
    tenths, thousandths = np.rint(attack[known] * 10).astype(np.int64), np.rint(factor[known] * 1000).astype(np.int64)
    kind = tenths * 100_000 + thousandths
    values = np.empty(kind.shape)
    for number in kind[:1] if kind.size and (kind == kind[0]).all() else np.unique(kind):
        mine = kind == number
        high, ball = (int(side[mine.argmax()]) for side in (tenths, thousandths))
        reach = Reach(high / 10, *loft_range, restitution, spin_share, ball / 1000)
        values[mine] = read_table(table(reach), speed[known][mine], density[known][mine])
    result[known] = values
    return result
