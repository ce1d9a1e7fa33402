"""Shots a second on one core, error against an adaptive solver, what the columns add to a history.

`python -m tests.benchmarks.flight`, with `--history 0` for the kernel alone.

The plain comparison is a Runge-Kutta of fourth order over whole arrays with a fixed step, as a good engineer would
write it: landed shots are taken out, the landing is found by a straight line within the last step.
"""

from __future__ import annotations

import argparse
import resource
import time
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from warehouse.domain.flight import trajectory
from warehouse.domain.flight.constants import GRAVITY

Floats = NDArray[np.float64]
M_PER_YD = 0.9144
PLAIN_STEPS = (0.05, 0.1, 0.2)
"""From customary to as coarse as `fly` itself, s."""
R, M = 0.021336, 0.04593


def driver_like(n: int, seed: int = 2) -> dict[str, Floats]:
    """Return launches as drivers give them."""
    rng = np.random.default_rng(seed)
    return {
        "ball_speed": rng.normal(66, 5, n).clip(45, 85),
        "launch_angle": rng.normal(12, 3, n).clip(3, 22),
        "launch_direction": rng.normal(0, 2, n).clip(-10, 10),
        "spin_rate": rng.normal(2800, 500, n).clip(1200, 5000),
        "spin_axis": rng.normal(0, 8, n).clip(-25, 25),
        "air_density": np.full(n, 1.225),
    }


def anywhere(n: int, seed: int = 1) -> dict[str, Floats]:
    """Return launches spread evenly over `flight.LIMITS`."""
    rng = np.random.default_rng(seed)
    names = ("ball_speed", "launch_angle", "launch_direction", "spin_rate", "spin_axis", "air_density")
    return {name: rng.uniform(*trajectory.LIMITS[name], n) for name in names}


def derivative(v: Floats, rim: Floats, axis: Floats, density: Floats) -> tuple[Floats, Floats]:
    """Return accelerations (3, n) and the rate of the rim speed: the model written again, apart from the product."""
    speed = np.sqrt((v * v).sum(axis=0))
    s = rim / speed
    reynolds = np.clip(speed * 2 * R * density / 1.81e-5 / 1e5, 0.81, 2.1)
    inner = np.minimum(s, 0.21)
    drag = 0.2028 - 0.2159 * inner + 2.8466 * inner**2 + 0.0165 * reynolds + 0.18 * np.maximum(s - 0.21, 0)
    lift = 0.0860 + 0.6463 * inner + 1.4789 * inner**2 - 0.0122 / reynolds**2
    lift = lift * np.minimum(1, s / 0.044) * np.maximum(1, s / 0.21) ** 0.4
    side = np.stack([axis[1] * v[2] - axis[2] * v[1], axis[2] * v[0] - axis[0] * v[2], axis[0] * v[1] - axis[1] * v[0]])
    side = side / np.sqrt((side * side).sum(axis=0))
    pressure = 0.5 * density * np.pi * R * R / M
    acceleration = pressure * speed * (lift * speed * side - drag * v)
    acceleration[1] -= GRAVITY
    return acceleration, -2.0e-5 * rim * speed / R * density / 1.225


def start(shots: dict[str, Floats]) -> tuple[Floats, Floats, Floats]:
    """Return velocity (3, n), rim speed and spin axis (3, n) at launch."""
    up, right, tilt = (np.radians(shots[k]) for k in ("launch_angle", "launch_direction", "spin_axis"))
    along = np.stack([np.cos(up) * np.cos(right), np.sin(up), np.cos(up) * np.sin(right)])
    level = np.stack([-np.sin(right), np.zeros_like(right), np.cos(right)])
    above = np.cross(level.T, along.T).T
    return shots["ball_speed"] * along, shots["spin_rate"] * np.pi / 30 * R, np.cos(tilt) * level - np.sin(tilt) * above


def plain_carry(shots: dict[str, Floats], h: float) -> Floats:
    """Return carries by the plain vectorised Runge-Kutta."""
    v, rim, axis = start(shots)
    place, density = np.zeros_like(v), shots["air_density"]
    result, alive = np.full(rim.shape, np.nan), np.arange(rim.size)
    while alive.size:
        k1, w1 = derivative(v, rim, axis, density)
        k2, w2 = derivative(v + h / 2 * k1, rim + h / 2 * w1, axis, density)
        k3, w3 = derivative(v + h / 2 * k2, rim + h / 2 * w2, axis, density)
        k4, w4 = derivative(v + h * k3, rim + h * w3, axis, density)
        new = place + h * v + h * h / 6 * (k1 + k2 + k3)
        v, rim = v + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4), rim + h / 6 * (w1 + 2 * w2 + 2 * w3 + w4)
        down = new[1] < 0
        share = place[1, down] / (place[1, down] - new[1, down])
        at = place[:, down] + share * (new[:, down] - place[:, down])
        result[alive[down]] = np.hypot(at[0], at[2])
        up = ~down
        place, v, rim, axis, density, alive = new[:, up], v[:, up], rim[up], axis[:, up], density[up], alive[up]
    return result


def adaptive(shots: dict[str, Floats]) -> Floats:
    """Return carry, lateral, apex, flight time, descent angle (5, n) by scipy's DOP853 at 1e-10, shot by shot."""
    v, rim, axis = start(shots)

    def ground(_: float, y: Floats) -> float:
        return y[1]

    def top(_: float, y: Floats) -> float:
        return y[4]

    ground.terminal, ground.direction = True, -1  # type: ignore[attr-defined]
    out = np.empty((5, rim.size))
    for i in range(rim.size):

        def moving(_: float, y: Floats, i: int = i) -> Floats:
            a, w = derivative(y[3:6, None], y[6:7], axis[:, i : i + 1], shots["air_density"][i : i + 1])
            return np.concatenate([y[3:6], a[:, 0], w])

        y0 = np.concatenate([np.zeros(3), v[:, i], rim[i : i + 1]])
        path = solve_ivp(moving, (0, 90), y0, method="DOP853", rtol=1e-10, atol=1e-10, events=[ground, top])
        y, tops = path.y_events[0][-1], path.y_events[1]
        steep = np.degrees(np.arctan2(-y[4], np.hypot(y[3], y[5])))
        out[:, i] = np.hypot(y[0], y[2]), y[2], max((p[1] for p in tops), default=0.0), path.t_events[0][-1], steep
    return out


def per_second(run: Callable[[], object], n: int, repeats: int = 5) -> float:
    """Return shots a second of processor time (one thread), the best of some repeats."""
    best = np.inf
    for _ in range(repeats):
        began = time.process_time()
        run()
        best = min(best, time.process_time() - began)
    return n / best


def errors(shots: dict[str, Floats]) -> dict[str, Floats]:
    """Return the absolute error of each result of `fly` against the adaptive solver, yards, s or degrees."""
    exact, mine = adaptive(shots), trajectory.fly(**shots)
    names = {"carry": M_PER_YD, "lateral": M_PER_YD, "apex": M_PER_YD, "flight_time": 1.0, "descent_angle": 1.0}
    return {name: np.abs(getattr(mine, name) - exact[i]) / unit for i, (name, unit) in enumerate(names.items())}


def main() -> None:
    """Print speeds and the error table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shots", type=int, default=200_000, help="shots timed")
    parser.add_argument("--oracle", type=int, default=3000, help="shots solved adaptively (about 15 ms each)")
    parser.add_argument(
        "--history", type=int, default=1_000_000,
        help="shots of a history built with the flight columns and without; 0: none",
    )  # fmt: skip
    options = parser.parse_args()
    shots, few = driver_like(options.shots), driver_like(20_000)
    trajectory.fly(**driver_like(100))
    kernel = per_second(lambda: trajectory.fly(**shots), options.shots)
    fallback = per_second(lambda: trajectory.fly(**few, engine="numpy"), 20_000, 2)
    print(f"driver-like, shots/s/core: fly {kernel:,.0f}; its numpy fallback {fallback:,.0f}")
    for h in PLAIN_STEPS:
        plain = per_second(lambda h=h: plain_carry(few, h), 20_000, 2)  # type: ignore[misc]
        print(f"  plain RK4, step {h} s: {plain:,.0f}; fly is {kernel / plain:.1f} times as fast")
    for title, launches in (("inside LIMITS", anywhere(options.oracle)), ("driver-like", driver_like(options.oracle))):
        print(f"{title}: absolute error, {options.oracle} shots      50%     99%   99.9%     max")
        for name, error in errors(launches).items():
            print(f"  {name:<36}" + "".join(f"{q:8.4f}" for q in np.percentile(error, [50, 99, 99.9, 100])))
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024
    print(f"peak memory of all that: {peak / 1e6:,.0f} MB")
    if options.history:
        from tests.benchmarks import flight_columns

        flight_columns.measure(options.history)


if __name__ == "__main__":
    main()
