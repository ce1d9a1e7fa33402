"""A delivery read aloud: what in it costs carry or direction, in plain trade words, the dearest first.

Costs are differences of the model between this delivery and a better one at the same club speed. Not here: which shots
make the block that is read, or what to do about it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite, nan
from typing import Any, Literal

from warehouse.domain.ball import STANDARD_DENSITY
from warehouse.domain.delivery import MEASURED_SPIN_SHARE, launch
from warehouse.domain.flight import fly
from warehouse.domain.reachable import ATTACK_HIGH, Reach, best_over_loft
from warehouse.schema.metrics import M_PER_YD, METRIC, MS_PER_MPH

LEAST_COST_M = 2.0 * M_PER_YD
"""Costs under this are within what the model can tell and are left out."""
Units = Literal["imperial", "metric"]


@dataclass(frozen=True)
class Line:
    """One sentence: `kind` 'carry', 'direction' or 'unknown'; `cost` in m (0 for unknown); `metric` what it names."""

    kind: str
    metric: str
    cost: float
    text: str


def read_delivery(
    centres: Mapping[str, float | None],
    club_group: str,
    *,
    air_density: float = STANDARD_DENSITY,
    attack_high: float = ATTACK_HIGH,
    units: Units = "imperial",
) -> list[Line]:
    """Return what costs carry (driver) or direction in a shot or a block's centres, by cost, then what is unknown.

    Parameters
    ----------
    centres : mapping
        Metric -> value in canonical units, None or NaN where not measured; left-handers mirrored already.
    club_group : str
        Carry is read for 'driver' alone; other clubs are outside the model's measured range and carry is not the aim.
    attack_high : float
        The most upward attack angle within this student's reach, deg.
    units : {"imperial", "metric"}
        Yards and mph, or metres and km/h.

    Notes
    -----
    Carry is read in steps from the best reachable delivery to the measured launch: attack (the best loft at each), loft
    at that attack, strike (ball speed), launch and spin beyond the delivery. All steps together are the best carry less
    the model's carry of the measured launch flown straight; steps that cost under `LEAST_COST_M` are not told.
    """
    values = {name: nan if value is None else float(value) for name, value in centres.items()}
    lines = [*direction_lines(values, air_density, units)]
    if club_group == "driver":
        lines += carry_lines(values, air_density, attack_high, units)
    else:
        lines.append(Line("unknown", "carry", 0.0, "Carry is not read here: it is not the aim with this club, and the "
                          "flight model is measured for drivers only."))  # fmt: skip
    told = [line for line in lines if line.kind != "unknown" and line.cost >= LEAST_COST_M]
    unknown = [line for line in lines if line.kind == "unknown"]
    return sorted(told, key=lambda line: -line.cost) + unknown


def carry_lines(values: Mapping[str, float], density: float, attack_high: float, units: Units) -> Iterator[Line]:
    """Yield what attack, loft, strike, launch and spin cost with a driver."""
    speed, attack, loft, ball, angle, spin = (
        values.get(name, nan)
        for name in ("club_speed", "attack_angle", "dynamic_loft", "ball_speed", "launch_angle", "spin_rate")
    )
    if not (isfinite(speed) and isfinite(attack)):
        yield missing("carry", "what the delivery costs in carry", values, ("club_speed", "attack_angle"))
        return
    reach = Reach()
    top = float(best_over_loft(speed, density, max(attack, attack_high), reach)[0])
    here, suited = (float(v) for v in best_over_loft(speed, density, attack, reach))
    yield Line("carry", "attack_angle", top - here, f"{slope(attack)}: about {length(top - here, units)} of carry at "
               f"this club speed ({pace(speed, units)}), against {slope(attack_high)}.")  # fmt: skip
    if not isfinite(loft):
        yield missing("dynamic_loft", "loft and strike", values, ("dynamic_loft",))
        return
    model = launch(speed, attack, 0.0, 0.0, loft, spin_share=MEASURED_SPIN_SHARE)
    given = carried(model.ball_speed, model.launch_angle, model.spin_rate, density)
    word = "more" if loft > suited else "less"
    yield Line("carry", "dynamic_loft", here - given, f"Dynamic loft {loft:.1f}°, {abs(loft - suited):.1f}° {word} "
               f"than suits {slope(attack, lower=True)}: about {length(here - given, units)} of carry.")  # fmt: skip
    if not isfinite(ball):
        yield missing("ball_speed", "strike", values, ("ball_speed",))
        return
    struck = carried(ball, model.launch_angle, model.spin_rate, density)
    yield Line("carry", "smash_factor", given - struck, f"Smash factor {ball / speed:.2f} where this delivery struck "
               f"in the middle gives about {float(model.ball_speed) / speed:.2f}: about "
               f"{length(given - struck, units)} of carry.")  # fmt: skip
    if not isfinite(spin) or not isfinite(angle):
        yield missing("spin_rate", "launch and spin beyond the delivery", values, ("launch_angle", "spin_rate"))
        return
    launched = carried(ball, angle, model.spin_rate, density)
    spun = carried(ball, angle, spin, density)
    yield Line("carry", "launch_angle", struck - launched, f"Launch {angle:.1f}° where the delivery gives about "
               f"{float(model.launch_angle):.1f}°: about {length(struck - launched, units)} of carry.")  # fmt: skip
    yield Line("carry", "spin_rate", launched - spun, f"Spin {spin:.0f} rpm where the delivery gives about "
               f"{float(model.spin_rate):.0f} rpm: about {length(launched - spun, units)} of carry.")  # fmt: skip


def direction_lines(values: Mapping[str, float], density: float, units: Units) -> Iterator[Line]:
    """Yield where the ball starts and how it curves, as sideways distance of the landing."""
    path, face = values.get("club_path", nan), values.get("face_angle", nan)
    ball, angle, start, spin, axis = (
        values.get(name, nan) for name in ("ball_speed", "launch_angle", "launch_direction", "spin_rate", "spin_axis")
    )
    delivery = isfinite(path) and isfinite(face)
    if not all(map(isfinite, (ball, angle, start, spin, axis))):
        if delivery:
            yield Line("unknown", "lateral", 0.0, f"{relation(face, path)}, path {side(path)}, but not how far that "
                       "took the ball: start, spin and its axis were not all measured.")  # fmt: skip
        else:
            needed = ("club_path", "face_angle", "launch_direction", "spin_rate", "spin_axis")
            yield missing("lateral", "what costs direction", values, needed)
        return
    straight, whole = fly(
        ball_speed=ball, launch_angle=angle, launch_direction=start, spin_rate=spin, spin_axis=[0.0, axis],
        air_density=density,
    ).lateral  # fmt: skip
    off, curve = float(straight), float(whole - straight)
    face_word = f", face {side(face).replace('straight', 'square')}" if isfinite(face) else ""
    yield Line("direction", "launch_direction", abs(off), f"Starts {side(start)}{face_word}: about "
               f"{length(abs(off), units)} {'right' if off > 0 else 'left'} of target.")  # fmt: skip
    why = f"{relation(face, path)}: curves" if delivery else "Curves"
    yield Line("direction", "spin_axis", abs(curve), f"{why} about {length(abs(curve), units)} to the "
               f"{'right' if curve > 0 else 'left'}.")  # fmt: skip
    if not delivery:
        yield missing("face_to_path", "why it curves", values, ("club_path", "face_angle"))


def carried(ball_speed: Any, launch_angle: Any, spin_rate: Any, density: float) -> float:
    """Return the model's carry (m) of one launch."""
    return float(
        fly(ball_speed=ball_speed, launch_angle=launch_angle, spin_rate=spin_rate, air_density=density).carry
    )  # fmt: skip


def missing(metric: str, what: str, values: Mapping[str, float], needed: tuple[str, ...]) -> Line:
    """Return the line that says what could not be told, and for want of which measurements."""
    absent = ", ".join(METRIC[name].label for name in needed if not isfinite(values.get(name, nan)))
    return Line("unknown", metric, 0.0, f"Could not tell {what}: no {absent} here.")


def slope(attack: float, *, lower: bool = False) -> str:
    """Return an attack angle in words: 5.1° down, 2.0° up, level."""
    if abs(attack) < 0.05:
        return "level" if lower else "Level"
    return f"{abs(attack):.1f}° {'up' if attack > 0 else 'down'}"


def side(angle: float) -> str:
    """Return a horizontal angle in words."""
    return "straight" if abs(angle) < 0.05 else f"{abs(angle):.1f}° {'right' if angle > 0 else 'left'}"


def relation(face: float, path: float) -> str:
    """Return face to path in words."""
    turned = face - path
    if abs(turned) < 0.05:
        return "Face square to path"
    return f"Face {abs(turned):.1f}° {'open' if turned > 0 else 'closed'} to path"


def length(metres: float, units: Units) -> str:
    """Return a distance with its unit; a negative one says that it is gained."""
    amount = abs(metres) / (1.0 if units == "metric" else M_PER_YD)
    return f"{'+' if metres < 0 else ''}{amount:.0f} {'m' if units == 'metric' else 'yd'}"


def pace(speed: float, units: Units) -> str:
    """Return a club speed with its unit."""
    return f"{speed * 3.6:.0f} km/h" if units == "metric" else f"{speed / MS_PER_MPH:.0f} mph"
