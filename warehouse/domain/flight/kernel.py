"""The equations of flight, and the loop that advances many shots in lockstep.

Every function of the physics is written with numpy's elementwise functions only, so the same text serves twice:
compiled by numba, where a loop over `LANES` shots becomes vector instructions, and as plain numpy over whole arrays
(flight_numpy). Import this module late: it brings numba in where numba is there. Not here: units, limits, missing
values (flight).

The compiled code is kept between runs: beside this file, else (a read-only installation) in the user's cache folder,
or wherever the environment variable NUMBA_CACHE_DIR says. Where none can be written it is compiled in each process.
Everything that is compiled stands in this one file, because the cache looks at this file's date alone.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

njit: Any
try:
    from numba import njit
except ImportError:
    njit = None

LANES = 16
"""Shots advanced together; a few vector registers wide."""
FIELDS = 12
"""Rows that go in: velocity x, y, z, rim speed (m/s), unit spin axis x, y, z, then `drag, lift, reynolds,
inverse_reynolds, decay` of `rates`."""
RESULTS = 7
"""Rows that come out: x and z at landing (m), apex (m), flight time (s), velocity x, y, z at landing (m/s)."""
ROWS = FIELDS + 5
"""Rows of the work space: the fields, position x, y, z, apex and time."""


def compiled(function: Callable[..., Any], *, cache: bool = False, inline: bool = False) -> Callable[..., Any]:
    """Return `function` compiled by numba, or itself where numba is not installed."""
    if njit is None:
        return function
    options = {"fastmath": True, "error_model": "numpy", "nogil": True, "forceinline": inline}
    try:
        return njit(cache=cache, **options)(function)
    except RuntimeError:  # no folder can hold the cache
        return njit(**options)(function)


def growth(over):
    """Return over^0.4 for over in [1, 300], to 1.4e-4, and exactly 1 at 1 (over is the spin parameter / 0.21)."""
    u = np.sqrt(np.sqrt(np.minimum(over, 300.0)))
    return 1.0 + (u - 1.0) * (1.0929381116 + u * (0.5574985503 + u * (-0.0512284031 + u * 0.0035392552)))


def rates(vx, vy, vz, rim, ax, ay, az, drag, lift, reynolds, inverse_reynolds, decay, gravity):
    """Return the accelerations (m/s^2) of a ball in flight and the rate of its rim speed r omega (m/s^2).

    Coefficients of drag and lift as functions of s = rim speed / speed and R = Reynolds number / 1e5, fitted to the
    table in US patent 6,186,002 B1 and extended beyond s = 0.21 with the exponents of Smits & Smith 1994. Lift acts
    along the unit vector of axis x velocity. `drag` and `lift` are per speed squared (1/m), `reynolds` is R per speed
    (s/m), `decay` the loss of spin per metre flown (1/m); x is down the line, y up, z to the right.
    """
    square = vx * vx + vy * vy + vz * vz + 1e-12
    along = ax * vx + ay * vy + az * vz
    speed = np.sqrt(square)
    across = np.sqrt(np.maximum(square - along * along, 1e-9 * square))
    both = 1.0 / (speed * across)  # one division for two inverses
    s = rim * across * both
    inner = np.minimum(s, 0.21)
    outer = s - inner
    r = np.minimum(np.maximum(reynolds * speed, 0.81), 2.1)
    inverse = np.minimum(np.maximum(inverse_reynolds * across * both, 1.0 / 2.1), 1.0 / 0.81)
    c_drag = 0.2028 + inner * (2.8466 * inner - 0.2159) + 0.0165 * r + 0.18 * outer
    c_lift = 0.0860 + inner * (0.6463 + 1.4789 * inner) - 0.0122 * inverse * inverse
    c_lift = c_lift * np.minimum(s * (1.0 / 0.044), 1.0) * growth_inline(1.0 + outer * (1.0 / 0.21))
    down = -drag * c_drag * speed
    up = lift * c_lift * square * speed * both
    return (
        down * vx + up * (ay * vz - az * vy),
        down * vy + up * (az * vx - ax * vz) - gravity,
        down * vz + up * (ax * vy - ay * vx),
        -decay * rim * speed,
    )


def step(h, vx, vy, vz, rim, ax, ay, az, drag, lift, reynolds, inverse_reynolds, decay, gravity):
    """Return displacement, new velocity and new rim speed after h seconds: Runge-Kutta of third order.

    The weights are Bogacki & Shampine's (1989). Accelerations do not depend on position, so the displacement is the
    quadrature of the three stage velocities.
    """
    same = (ax, ay, az, drag, lift, reynolds, inverse_reynolds, decay, gravity)
    x1, y1, z1, w1 = rates_inline(vx, vy, vz, rim, *same)
    q = 0.5 * h
    x2, y2, z2, w2 = rates_inline(vx + q * x1, vy + q * y1, vz + q * z1, rim + q * w1, *same)
    q = 0.75 * h
    x3, y3, z3, w3 = rates_inline(vx + q * x2, vy + q * y2, vz + q * z2, rim + q * w2, *same)
    sixth = h * (1.0 / 6.0)
    ninth = h * (1.0 / 9.0)
    return (
        h * (vx + sixth * (x1 + 2.0 * x2)),
        h * (vy + sixth * (y1 + 2.0 * y2)),
        h * (vz + sixth * (z1 + 2.0 * z2)),
        vx + ninth * (2.0 * x1 + 3.0 * x2 + 4.0 * x3),
        vy + ninth * (2.0 * y1 + 3.0 * y2 + 4.0 * y3),
        vz + ninth * (2.0 * z1 + 3.0 * z2 + 4.0 * z3),
        rim + ninth * (2.0 * w1 + 3.0 * w2 + 4.0 * w3),
    )


def crest(h, y, rise, vy, new_vy):
    """Return the greatest height within a step (m), from the cubic through both ends' heights and speeds."""
    u = np.minimum(np.maximum(vy / (vy - new_vy + 1e-12), 0.0), 1.0)
    rest = 1.0 - u
    return y + u * u * (3.0 - 2.0 * u) * rise + h * u * rest * (rest * vy - u * new_vy)


def time_to_ground(y, vy, acceleration):
    """Return the (negative) time from just under the ground back to it, for a constant vertical acceleration."""
    return -2.0 * y / (vy - np.sqrt(np.maximum(vy * vy - 2.0 * acceleration * y, 0.0)) - 1e-12)


growth_inline = compiled(growth, inline=True)
rates_inline = compiled(rates, inline=True)
step_inline = compiled(step, inline=True)
crest_inline = compiled(crest, inline=True)
time_to_ground_inline = compiled(time_to_ground, inline=True)
# Offsets of the work space's rows. One flat array and constant offsets, so that the compiler can prove that rows do
# not overlap and turns the loops over lanes into vector instructions.
R1, R2, R3, R4, R5, R6, R7, R8, R9, R10, R11, X, Y, Z, APEX, TIME = (row * LANES for row in range(1, ROWS))


def advance(b, h, gravity):
    """Move every lane that is still in the air by h; return how many were."""
    flying = 0.0
    for i in range(LANES):
        x, y, z = b[i + X], b[i + Y], b[i + Z]
        vx, vy, vz, rim = b[i], b[i + R1], b[i + R2], b[i + R3]
        up = 1.0 if y >= 0.0 else 0.0
        dt = h * up
        dx, dy, dz, new_vx, new_vy, new_vz, new_rim = step_inline(
            dt, vx, vy, vz, rim, b[i + R4], b[i + R5], b[i + R6], b[i + R7], b[i + R8], b[i + R9], b[i + R10],
            b[i + R11], gravity,
        )  # fmt: skip
        b[i], b[i + R1], b[i + R2], b[i + R3] = new_vx, new_vy, new_vz, new_rim
        b[i + X], b[i + Y], b[i + Z] = x + dx, y + dy, z + dz
        b[i + APEX] = np.maximum(b[i + APEX], crest_inline(dt, y, dy, vy, new_vy))
        b[i + TIME] += dt
        flying += up
    return flying


def land(b, gravity):
    """Bring every lane from just under the ground back onto it."""
    for i in range(LANES):
        x, y, z = b[i + X], b[i + Y], b[i + Z]
        vx, vy, vz, rim = b[i], b[i + R1], b[i + R2], b[i + R3]
        _, pull, _, _ = rates_inline(
            vx, vy, vz, rim, b[i + R4], b[i + R5], b[i + R6], b[i + R7], b[i + R8], b[i + R9], b[i + R10],
            b[i + R11], gravity,
        )  # fmt: skip
        back = time_to_ground_inline(y, vy, pull)
        dx, dy, dz, new_vx, new_vy, new_vz, _ = step_inline(
            back, vx, vy, vz, rim, b[i + R4], b[i + R5], b[i + R6], b[i + R7], b[i + R8], b[i + R9], b[i + R10],
            b[i + R11], gravity,
        )  # fmt: skip
        rest = -(y + dy) / (new_vy - 1e-12)
        b[i], b[i + R1], b[i + R2] = new_vx, new_vy, new_vz
        b[i + X], b[i + Y], b[i + Z] = x + dx + rest * new_vx, y + dy + rest * new_vy, z + dz + rest * new_vz
        b[i + TIME] += back + rest


advance_compiled = compiled(advance, inline=True)
land_compiled = compiled(land, inline=True)


def fly_lanes(fields, results, first, longer, most, gravity):
    """Fly n shots: `fields` (FIELDS, n) in, `results` (RESULTS, n) out; NaN where a ball is up after `most` steps.

    Steps last first, first + longer, first + 2 longer … seconds: the air changes a ball's speed fastest at the start.
    """
    n = fields.shape[1]
    b = np.zeros(ROWS * LANES)
    for start in range(0, n, LANES):
        width = min(LANES, n - start)
        for row in range(FIELDS):
            for i in range(LANES):
                b[row * LANES + i] = fields[row, start + min(i, width - 1)]
        b[X:] = 0.0
        h = first
        for _ in range(most):
            if advance_compiled(b, h, gravity) == 0.0:
                break
            h += longer
        for i in range(width):
            results[0, start + i] = b[i + Y]
        land_compiled(b, gravity)
        for i in range(width):
            k = start + i
            aloft = results[0, k] >= 0.0
            results[0, k], results[1, k], results[2, k] = b[i + X], b[i + Z], b[i + APEX]
            results[3, k], results[4, k], results[5, k], results[6, k] = b[i + TIME], b[i], b[i + R1], b[i + R2]
            if aloft:
                results[:, k] = np.nan


fly_lanes_compiled = compiled(fly_lanes, cache=True)
