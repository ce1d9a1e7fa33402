"""Impact: what a delivery of the club head gives the ball.

The rigid-body model of Penner (Rep. Prog. Phys. 66, 2003, 131): along the face's normal a collision with restitution,
across it the ball is set rolling. Measured spin is about three quarters of what rolling gives: whatever is compared
with a measured shot passes `spin_share=MEASURED_SPIN_SHARE`; `launch` alone keeps the theory's own value. In three
dimensions: club path, attack angle, face angle and dynamic loft give launch direction and spin axis too. A centred
strike with a driver: gear effect and off-centre losses are not in it. Not here: the flight (flight).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from warehouse.domain.flight.constants import MASS, RADIANS_PER_SECOND_PER_RPM, RADIUS

DRIVER_RESTITUTION = 0.83
"""At driver speed (Penner 2003; the value the equipment rules have long held drivers to)."""
HEAD_MASS = 0.200
"""Mass of a driver's head, kg (Penner 2003)."""
MEASURED_SPIN_SHARE = 0.75
"""Measured spin as a share of that of a ball that rolls off the face (Penner 2003)."""


@dataclass(frozen=True)
class Launch:
    """Arrays of one shape; see `launch`."""

    ball_speed: NDArray[np.float64]
    launch_angle: NDArray[np.float64]
    launch_direction: NDArray[np.float64]
    spin_rate: NDArray[np.float64]
    spin_axis: NDArray[np.float64]


def solid_face_restitution(normal_speed: ArrayLike) -> NDArray[np.float64]:
    """Return 0.86 - 0.0029 v_n, for heads without a springy face; v_n in m/s (Penner 2003)."""
    return 0.86 - 0.0029 * np.asarray(normal_speed, dtype=np.float64)


def launch(
    club_speed: ArrayLike,
    attack_angle: ArrayLike,
    club_path: ArrayLike = 0.0,
    face_angle: ArrayLike = 0.0,
    dynamic_loft: ArrayLike = np.nan,
    *,
    restitution: ArrayLike = DRIVER_RESTITUTION,
    head_mass: ArrayLike = HEAD_MASS,
    spin_share: ArrayLike = 1.0,
    ball_factor: ArrayLike = 1.0,
) -> Launch:
    """Return how the ball starts after a delivery.

    Parameters
    ----------
    club_speed, attack_angle, club_path, face_angle, dynamic_loft : array_like
        m/s; deg, up +; deg, right +; deg, right +; deg. Any shapes that broadcast; NaN in gives NaN out.
    restitution : array_like
        Coefficient of restitution along the face's normal.
    head_mass : array_like
        kg.
    spin_share : array_like
        Spin over that of a ball that rolls off the face; `MEASURED_SPIN_SHARE` for comparison with measured shots.
    ball_factor : array_like
        Ball speed over that of a premium ball: an assumption for range balls, 1 unless stated.

    Returns
    -------
    Launch
        `ball_speed` (m/s), `launch_angle` (deg), `launch_direction` (deg, right +), `spin_rate` (rpm, at least 0),
        `spin_axis` (deg, tilted right +; beyond 90 is topspin).
    """
    given = (club_speed, attack_angle, club_path, face_angle, dynamic_loft, restitution, head_mass, spin_share)
    speed, attack, path, face, loft, e, mass, share = (np.asarray(value, dtype=np.float64) for value in given)
    factor = np.asarray(ball_factor, dtype=np.float64)
    cx, cy, cz = direction(attack, path)
    nx, ny, nz = direction(loft, face)
    into = cx * nx + cy * ny + cz * nz
    # Velocity across the face, as a share of club speed.
    tx, ty, tz = cx - into * nx, cy - into * ny, cz - into * nz
    ratio = MASS / mass
    normal = (1.0 + e) * into / (1.0 + ratio)
    across = 1.0 / (1.0 + ratio + 2.5)
    bx, by, bz = (normal * n + across * t for n, t in ((nx, tx), (ny, ty), (nz, tz)))
    level = np.hypot(bx, bz)
    size = np.hypot(level, by)
    wx, wy, wz = ty * nz - tz * ny, tz * nx - tx * nz, tx * ny - ty * nx
    # Seen along the ball's start: `side` is level and to the right, `over` points up and back.
    sin_up, cos_up = by / size, level / size
    sin_right, cos_right = bz / level, bx / level
    side = -wx * sin_right + wz * cos_right
    over = -wx * sin_up * cos_right + wy * cos_up - wz * sin_up * sin_right
    spin = np.sqrt(wx * wx + wy * wy + wz * wz) * 2.5 * across * share * speed / (RADIUS * RADIANS_PER_SECOND_PER_RPM)
    values = (
        speed * size * factor,
        np.degrees(np.arctan2(by, level)),
        np.degrees(np.arctan2(bz, bx)),
        spin,
        np.degrees(np.arctan2(-over, side)),
    )
    known = np.isfinite(speed + size + factor + share)
    return Launch(*(np.where(known, value, np.nan) for value in np.broadcast_arrays(*values)))


def direction(up: NDArray[np.float64], right: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
    """Return the unit vector (down the line, up, right) at an angle up and an angle right, in degrees."""
    u, r = np.radians(up), np.radians(right)
    return np.cos(u) * np.cos(r), np.sin(u), np.cos(u) * np.sin(r)
