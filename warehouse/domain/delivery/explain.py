"""Deliveries read aloud: what in each costs carry or direction, in plain trade words, the dearest first.

Not here: the costs themselves (reading_costs), which shots make the block that is read, or what to do about it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.delivery.explain_costs import NEEDS, carry_costs, sideways
from warehouse.domain.delivery.explain_wording import Units, length, missing, pace, relation, side, slope
from warehouse.domain.delivery.reachable_carry import ATTACK_HIGH
from warehouse.domain.flight.constants import STANDARD_DENSITY
from warehouse.schema.metrics import M_PER_YD

Floats = NDArray[np.float64]
Values = Mapping[str, Floats]

LEAST_COST_M = 2.0 * M_PER_YD
"""Costs under this are within what the model can tell and are left out."""
OTHER_CLUBS = (
    "Carry is not read here: it is not the aim with this club, and the flight model is measured for drivers only. "
    "Sideways distances above are outside its measured range too."
)
SCHEMA = {
    "delivery": pl.Int64, "place": pl.Int64, "kind": pl.String, "metric": pl.String, "cost": pl.Float64,
    "sentence": pl.String,
}  # fmt: skip


@dataclass(frozen=True)
class Said:
    """One kind of sentence about n deliveries: which of them it is said of, at what cost (m; 0 for unknown)."""

    kind: Literal["carry", "direction", "unknown"]
    metric: str
    of: NDArray[np.bool_]
    cost: Floats
    text: Callable[[int], str]


def read_deliveries(deliveries: pl.DataFrame, *, units: Units = "imperial") -> pl.DataFrame:
    """Return what costs carry (driver) or direction in each delivery, by cost, then what could not be told.

    Parameters
    ----------
    deliveries : polars.DataFrame
        One row a shot or a block's centres: `NEEDS` in canonical units, null where not measured (or no such column),
        left-handers mirrored; club_group; optionally air_density (kg/m^3, else the standard atmosphere's at sea level)
        and attack_high (deg, the most upward attack angle within this student's reach). Carry is read for 'driver'
        alone: other clubs are outside the model's measured range and carry is not the aim.
    units : {"imperial", "metric"}
        Yards and mph, or metres and km/h.

    Returns
    -------
    polars.DataFrame
        delivery (row of `deliveries`, from 0), place (from 1), kind ('carry', 'direction' or 'unknown'), metric,
        cost (m), sentence. Steps that cost under `LEAST_COST_M` are not told.
    """
    driver = deliveries["club_group"].eq("driver").fill_null(False).to_numpy()
    values = {name: numbers(deliveries, name) for name in NEEDS}
    density = numbers(deliveries, "air_density", STANDARD_DENSITY)
    high = numbers(deliveries, "attack_high", ATTACK_HIGH)
    rows = []
    for said in (*direction(values, density, units), *carry(values, driver, density, high, units)):
        told = said.of if said.kind == "unknown" else said.of & (np.nan_to_num(said.cost, nan=-1.0) >= LEAST_COST_M)
        rows += [
            (at, said.kind, said.metric, float(said.cost[at]), said.text(at)) for at in map(int, np.flatnonzero(told))
        ]
    names = [name for name in SCHEMA if name != "place"]
    lines = pl.DataFrame(rows, {name: SCHEMA[name] for name in names}, orient="row")
    unknown = pl.col("kind") == "unknown"
    ordered = lines.sort("delivery", unknown, pl.col("cost"), descending=[False, False, True], maintain_order=True)
    return ordered.with_columns(place=pl.int_range(1, pl.len() + 1, dtype=pl.Int64).over("delivery")).select(*SCHEMA)


def numbers(frame: pl.DataFrame, name: str, absent: float = np.nan) -> Floats:
    """Return a column as floats, NaN for null; `absent` throughout where the frame has no such column."""
    if name not in frame.columns:
        return np.full(frame.height, absent)
    return frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy()


def carry(values: Values, driver: NDArray[np.bool_], density: Floats, high: Floats, units: Units) -> Iterator[Said]:
    """Yield what attack, loft, strike, launch and spin cost with a driver."""
    own = {name: np.where(driver, value, np.nan) for name, value in values.items()}
    speed, attack, loft, ball = (own[name] for name in ("club_speed", "attack_angle", "dynamic_loft", "ball_speed"))
    cost = carry_costs(own, density, high)
    model, beyond = cost.model, loft - cost.suited_loft

    def lost(step: Floats, at: int) -> str:
        return f"about {length(step[at], units)} of carry"

    steps: tuple[tuple[str, Floats, Callable[[int], str]], ...] = (
        ("attack_angle", cost.attack, lambda at: f"{slope(attack[at])}: {lost(cost.attack, at)} at this club speed "
         f"({pace(speed[at], units)}), against {slope(high[at], lower=True)}."),
        ("dynamic_loft", cost.loft, lambda at: f"Dynamic loft {loft[at]:.1f}°, {abs(beyond[at]):.1f}° "
         f"{'more' if beyond[at] > 0 else 'less'} than suits {slope(attack[at], lower=True)}: {lost(cost.loft, at)}."),
        ("smash_factor", cost.strike, lambda at: f"Smash factor {ball[at] / speed[at]:.2f} where this delivery struck "
         f"in the middle gives about {model.ball_speed[at] / speed[at]:.2f}: {lost(cost.strike, at)}."),
        ("launch_angle", cost.launch, lambda at: f"Launch {own['launch_angle'][at]:.1f}° where the delivery gives "
         f"about {model.launch_angle[at]:.1f}°: {lost(cost.launch, at)}."),
        ("spin_rate", cost.spin, lambda at: f"Spin {own['spin_rate'][at]:.0f} rpm where the delivery gives about "
         f"{model.spin_rate[at]:.0f} rpm: {lost(cost.spin, at)}."),
    )  # fmt: skip
    for metric, step, text in steps:
        yield Said("carry", metric, driver, step, text)
    so_far = driver
    for metric, what, step, needed in (
        ("carry", "what the delivery costs in carry", cost.attack, ("club_speed", "attack_angle")),
        ("dynamic_loft", "loft and strike", cost.loft, ("dynamic_loft",)),
        ("ball_speed", "strike", cost.strike, ("ball_speed",)),
        ("spin_rate", "launch and spin beyond the delivery", cost.spin, ("launch_angle", "spin_rate")),
    ):
        yield unknown(metric, what, so_far & np.isnan(step), own, needed)
        so_far = so_far & ~np.isnan(step)
    yield Said("unknown", "carry", ~driver, np.zeros(driver.size), lambda _: OTHER_CLUBS)


def direction(values: Values, density: Floats, units: Units) -> Iterator[Said]:
    """Yield where the ball starts and how it curves, as sideways distance of the landing."""
    path, face, start = (values[name] for name in ("club_path", "face_angle", "launch_direction"))
    off, curve = sideways(values, density)
    delivery, flown = np.isfinite(path) & np.isfinite(face), np.isfinite(curve)
    nothing = np.zeros(path.size)

    def starts(at: int) -> str:
        face_word = f", face {side(face[at]).replace('straight', 'square')}" if np.isfinite(face[at]) else ""
        return (
            f"Starts {side(start[at])}{face_word}: about {length(abs(off[at]), units)} "
            f"{'right' if off[at] > 0 else 'left'} of target."
        )

    def curves(at: int) -> str:
        why = f"{relation(face[at], path[at])}: curves" if delivery[at] else "Curves"
        return f"{why} about {length(abs(curve[at]), units)} to the {'right' if curve[at] > 0 else 'left'}."

    yield Said("direction", "launch_direction", flown, np.abs(off), starts)
    yield Said("direction", "spin_axis", flown, np.abs(curve), curves)
    yield Said("unknown", "lateral", delivery & ~flown, nothing, lambda at: (
        f"{relation(face[at], path[at])}, path {side(path[at])}, but not how far that took the ball: start, spin and "
        "its axis were not all measured."
    ))  # fmt: skip
    needed = ("club_path", "face_angle", "launch_direction", "spin_rate", "spin_axis")
    yield unknown("lateral", "what costs direction", ~delivery & ~flown, values, needed)
    yield unknown("face_to_path", "why it curves", ~delivery & flown, values, ("club_path", "face_angle"))


def unknown(metric: str, what: str, of: NDArray[np.bool_], values: Values, needed: tuple[str, ...]) -> Said:
    """Return what could not be told of some deliveries, and for want of which measurements."""

    def text(at: int) -> str:
        return missing(what, [name for name in needed if not np.isfinite(values[name][at])])

    return Said("unknown", metric, of, np.zeros(of.size), text)
