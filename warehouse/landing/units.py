"""Units and signs a profile may name, and how each becomes canonical. Not here: which unit a metric has (metrics.py).

Sources: international yard and pound agreement of 1959 (1 yd = 0.9144 m exactly; 1 ft = yd/3; 1 in = yd/36;
1 mile = 1760 yd); SI for the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

from warehouse.schema.metrics import METRIC, Metric


@dataclass(frozen=True)
class Unit:
    """A unit: its kind, and numerator and denominator (whole numbers) that take it to the kind's base unit.

    Two whole numbers, not one quotient, so that a limit stated in the file's unit lands exactly on the limit.
    """

    kind: str
    times: int
    over: int


UNITS: dict[str, Unit] = {
    "m/s": Unit("speed", 1, 1),
    "km/h": Unit("speed", 1000, 3600),
    "mph": Unit("speed", 44704, 100000),
    "ft/s": Unit("speed", 3048, 10000),
    "m": Unit("length", 1, 1),
    "yd": Unit("length", 9144, 10000),
    "ft": Unit("length", 3048, 10000),
    "in": Unit("length", 254, 10000),
    "cm": Unit("length", 1, 100),
    "mm": Unit("length", 1, 1000),
    "deg": Unit("angle", 1, 1),
    "rpm": Unit("spin", 1, 1),
}

SIGNS = {
    "right": ("right", "left"),
    "up": ("up", "down"),
    "toe": ("toe", "heel"),
    "high": ("high", "low"),
}
"""Canonical plus -> the two words `positive` may take, the canonical one first."""

PLUS = {
    "attack_angle": "up",
    "launch_angle": "up",
    "dynamic_loft": "up",
    "club_path": "right",
    "face_angle": "right",
    "launch_direction": "right",
    "spin_axis": "right",
    "lateral": "right",
    "impact_toe": "toe",
    "impact_high": "high",
}
"""Signed metric -> which way is plus, seen by the golfer."""


def units_for(metric: Metric) -> tuple[str, ...]:
    """Return the units a profile may name for a metric: those of its canonical unit's kind."""
    kind = UNITS[metric.unit].kind
    return tuple(name for name, unit in UNITS.items() if unit.kind == kind)


def words_for(metric: Metric) -> tuple[str, ...]:
    """Return the words `positive` may take for a metric; none for an unsigned one."""
    return SIGNS[PLUS[metric.name]] if metric.name in PLUS else ()


def scale(name: str, unit: str, positive: str | None) -> tuple[int, int]:
    """Return whole numbers (times, over): file value * times / over = canonical value of metric `name`."""
    metric = METRIC[name]
    given, canonical = UNITS[unit], UNITS[metric.unit]
    times, over = given.times * canonical.over, given.over * canonical.times
    return (-times if positive and positive != PLUS[name] else times), over
