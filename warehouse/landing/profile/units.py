"""Units and signs a profile may name, and how each becomes canonical. Not here: which unit a metric has (metrics.py).

Sources: international yard and pound agreement of 1959 (1 yd = 0.9144 m exactly; 1 ft = yd/3; 1 in = yd/36;
1 mile = 1760 yd); the conventional millimetre of mercury (13.5951 g/cm^3 under 9.80665 m/s^2, 133.322387415 Pa; the
inch 25.4 of them: NIST SP 811, appendix B); SI for the rest.
"""

from __future__ import annotations

from dataclasses import dataclass

from warehouse.schema.metrics import EXPORTED_BY_NAME, Circumstance, Metric


@dataclass(frozen=True)
class Unit:
    """A unit: its kind, and whole numbers that take it to the kind's base unit: (value * times + plus) / over.

    Whole numbers, not one quotient, so that a limit stated in the file's unit lands exactly on the limit. Only
    temperatures have their zero elsewhere (`plus`), and a kind's canonical unit has it at the base unit's.
    """

    kind: str
    times: int
    over: int
    plus: int = 0


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
    "degC": Unit("temperature", 1, 1),
    "degF": Unit("temperature", 5, 9, -160),
    "K": Unit("temperature", 20, 20, -5463),
    "hPa": Unit("pressure", 100, 1),
    "mbar": Unit("pressure", 100, 1),
    "Pa": Unit("pressure", 1, 1),
    "inHg": Unit("pressure", 3386388640341, 10**9),
    "mmHg": Unit("pressure", 133322387415, 10**9),
    "%": Unit("share", 1, 100),
}

SPELLINGS: dict[str, tuple[str, ...]] = {
    "m/s": ("m/s", "mps", "m/sec", "m s-1"),
    "km/h": ("km/h", "kmh", "kph", "km/hr", "km/t", "km/u"),
    "mph": ("mph", "m.p.h.", "mi/h", "miles/h"),
    "ft/s": ("ft/s", "fps", "ft/sec", "feet/s"),
    "m": ("m", "mtr", "meter", "metre", "meters", "metres"),
    "yd": ("yd", "yds", "yd.", "yds.", "yard", "yards"),
    "ft": ("ft", "ft.", "feet", "foot", "'"),
    "in": ("in", "in.", "inch", "inches", '"'),
    "cm": ("cm",),
    "mm": ("mm",),
    "deg": ("deg", "deg.", "degree", "degrees", "\u00b0", "\u00ba"),
    "rpm": ("rpm", "r/min", "rev/min", "1/min", "min-1"),
    "degC": ("degC", "\u00b0C", "\u00baC", "C"),
    "degF": ("degF", "\u00b0F", "\u00baF", "F"),
    "K": ("K",),
    "hPa": ("hPa",),
    "mbar": ("mbar", "mb"),
    "Pa": ("Pa",),
    "inHg": ("inHg", "in Hg"),
    "mmHg": ("mmHg", "mm Hg"),
    "%": ("%", "% rh"),
}
"""How a cell or a header may spell a unit (common practice, no source), case aside."""

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


Number = Metric | Circumstance


def units_for(number: Number) -> tuple[str, ...]:
    """Return the units a profile may name for a number: those of its canonical unit's kind."""
    kind = UNITS[number.unit].kind
    return tuple(name for name, unit in UNITS.items() if unit.kind == kind)


def words_for(number: Number) -> tuple[str, ...]:
    """Return the words `positive` may take for a number; none for an unsigned one."""
    return SIGNS[PLUS[number.name]] if number.name in PLUS else ()


def scale(name: str, unit: str, positive: str | None) -> tuple[int, int, int]:
    """Return whole numbers (times, over, plus): (file value * times + plus) / over = canonical value of `name`."""
    given, canonical = UNITS[unit], UNITS[EXPORTED_BY_NAME[name].unit]
    times, over, plus = given.times * canonical.over, given.over * canonical.times, given.plus * canonical.over
    return (-times if positive and positive != PLUS[name] else times), over, plus
