"""Flight where numba is not installed: the same equations and steps over whole arrays, slower and equal.

Not here: the equations (flight_kernel), units and missing values (flight).
"""

from __future__ import annotations

from types import FunctionType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from warehouse.domain.flight import kernel


def plain(function: Any, names: dict[str, Any]) -> Any:
    """Return `function` with other functions behind the names it calls."""
    return FunctionType(function.__code__, names)


NAMES = {**vars(kernel), "growth_inline": kernel.growth}
NAMES["rates_inline"] = rates = plain(kernel.rates, NAMES)
step = plain(kernel.step, NAMES)


def fly_arrays(
    fields: NDArray[np.float64], results: NDArray[np.float64], first: float, longer: float, most: int, gravity: float
) -> None:
    """Do what `flight_kernel.fly_lanes` does, over all shots at once."""
    velocity, same = list(fields[:4]), (*fields[4:], gravity)
    n = fields.shape[1]
    x, y, z, apex, time = (np.zeros(n) for _ in range(5))
    h = first
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        for _ in range(most):
            up = y >= 0.0
            if not up.any():
                break
            dt = np.where(up, h, 0.0)
            dx, dy, dz, *new = step(dt, *velocity, *same)
            apex = np.maximum(apex, kernel.crest(dt, y, dy, velocity[1], new[1]))
            velocity, x, y, z, time = new, x + dx, y + dy, z + dz, time + dt
            h += longer
        pull = rates(*velocity, *same)[1]
        back = kernel.time_to_ground(y, velocity[1], pull)
        dx, dy, dz, vx, vy, vz, _ = step(back, *velocity, *same)
        rest = -(y + dy) / (vy - 1e-12)
        results[:] = (x + dx + rest * vx, z + dz + rest * vz, apex, time + back + rest, vx, vy, vz)
        results[:, y >= 0.0] = np.nan
