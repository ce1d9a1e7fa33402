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

try:
    from numba import njit
except ImportError:
    njit = None

LANES = 16
"""Shots advanced together; a few vector registers wide."""
CALM = 0.18
"""Below this spin parameter at the end of a step, no shot passes 0.21 within the next one."""


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
    """Return over^0.4 for over in [1, 300], to 1.2e-4 (over is the spin parameter / 0.21)."""
    u = np.sqrt(np.sqrt(np.minimum(over, 300.0)))
    return -0.0962920546 + u * (0.5420517960 + u * (0.6041967983 + u * (-0.0534846836 + u * 0.0034114550)))


def no_growth(over):
    """Return 1: the lift factor while no shot spins past 0.21."""
    return 1.0


growth_inline = compiled(growth, inline=True)
no_growth_inline = compiled(no_growth, inline=True)


def rates(vx, vy, vz, rim, ax, ay, az, drag, lift, reynolds, inverse_reynolds, decay, gravity, grow):
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
    c_lift = c_lift * np.minimum(s * (1.0 / 0.044), 1.0) * grow(1.0 + outer * (1.0 / 0.21))
    down = -drag * c_drag * speed
    up = lift * c_lift * square * speed * both
    return (
        down * vx + up * (ay * vz - az * vy),
        down * vy + up * (az * vx - ax * vz) - gravity,
        down * vz + up * (ax * vy - ay * vx),
        -decay * rim * speed,
    )


rates_inline = compiled(rates, inline=True)
