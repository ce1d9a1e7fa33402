"""Which column is which number, in what unit and sign: the reading that headers and physics together make likeliest.

All is decided at once: a column's meaning, unit and sign gain or lose with those of the others. How sure a part of the
reading is, is by how much the best reading without it is less likely. Not
here: the search for it (search.py), what is asked of whom (number_entries.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from warehouse.landing.learning import physics, ties
from warehouse.landing.learning.expected_values import AIR, Floats
from warehouse.landing.profile import units as profile_units
from warehouse.schema.metrics import EXPORTED, EXPORTED_BY_NAME

NAMES = tuple(number.name for number in EXPORTED)
SIDED = ("club_path", "face_angle", "launch_direction", "spin_axis", "lateral")
"""Metrics whose plus is right or left."""
FREE_SIGNS = (*SIDED, "attack_angle", "impact_toe", "impact_high")
SPEEDS, LENGTHS, SPOTS = ("club_speed", "ball_speed"), ("carry", "lateral"), ("impact_toe", "impact_high")
HEADER_WEIGHT = 0.8
"""Nats for each point by which a header means a metric."""
VAGUE = 6.5
"""Below this a header's other meaning does not speak against a metric."""
UNNAMED = -3.0
"""What a column costs whose header says nothing: other evidence has to make up for it."""
RARE = {"ft/s": -3.5, "cm": -1.0, "in": -1.0, "ft": -2.0}
PAIRED = {
    ("mph", "m"): -2.2,
    ("km/h", "yd"): -2.2,
    ("m/s", "yd"): -2.0,
    ("ft/s", "m"): -2.0,
    ("km/h", "ft"): -3.0,
    ("m/s", "ft"): -3.0,
    ("mph", "ft"): -0.5,
}
"""Speed unit, length unit -> nats: systems are seldom mixed (common practice, no source)."""
UP_IS_USUAL = 3.2
"""Nats for an attack angle whose plus is up (common practice, no source)."""
ALIKE = (
    frozenset(SPEEDS),
    frozenset({"launch_angle", "dynamic_loft"}),
    frozenset({"club_path", "face_angle", "launch_direction"}),
    frozenset({"carry", "lateral"}),
    frozenset({"attack_angle", "launch_angle"}),
    frozenset(SPOTS),
    frozenset({"launch_angle", "launch_direction"}),
)
"""Metrics that are mistaken for each other: their columns are tried the other way round whatever the headers say."""
TURNS = 7.0
"""Nats for a column without a name that is all in the thousands: nothing else of a shot is."""
IMPOSSIBLE = -40.0
DENSITY = 1.2


@dataclass(frozen=True)
class Choice:
    """One metric's column (its place), unit, and sign (1: plus is as here, -1: the other way round)."""

    place: int
    unit: str
    sign: int = 1


Reading = dict[str, Choice]


@dataclass(frozen=True)
class NumericColumn:
    """A column of numbers, and what is said of it.

    `unit` and `sides` are what the file or a person says; `plus_hint` is a side that the header only mentions.
    `settled`: the metric a person said it is; "" that it is none.
    """

    place: int
    header: str
    values: Floats
    meanings: Mapping[str, float]
    unit: str | None = None
    side: str | None = None
    hint: str | None = None
    settled: str | None = None


@dataclass
class Evidence:
    """The columns, each shot's loft, and scores once computed."""

    columns: dict[int, NumericColumn]
    lofts: Floats
    units: Mapping[str, str] = field(default_factory=dict)
    air_density: float = DENSITY
    carry_slack: float = physics.CARRY_SLACK
    _cache: dict[object, object] = field(default_factory=dict)

    def canonical(self, name: str, choice: Choice) -> Floats:
        """Return a column's values as a metric's."""
        key = ("values", name, choice)
        if key not in self._cache:
            times, over, plus = profile_units.scale(name, choice.unit, None)
            self._cache[key] = choice.sign * (self.columns[choice.place].values * times + plus) / over
        return self._cache[key]  # type: ignore[return-value]

    def units_for(self, name: str, place: int) -> tuple[str, ...]:
        """Return the units in which a column may give a metric; none where it cannot."""
        column, fits = self.columns[place], profile_units.units_for(EXPORTED_BY_NAME[name])
        said = self.units.get(name) or column.unit
        if said is not None:
            return (said,) if said in fits else ()
        usual = {
            "carry": ("m", "yd", "ft"),
            "lateral": ("m", "yd", "ft", "in", "cm"),
            "impact_toe": ("mm", "cm", "in"),
            "impact_high": ("mm", "cm", "in"),
        }
        return usual.get(name, fits)

    def signs_for(self, name: str, place: int) -> tuple[int, ...]:
        """Return the signs a column may have."""
        side = self.columns[place].side
        if side is not None and name in profile_units.PLUS:
            return (1,) if side == profile_units.PLUS[name] else (-1,)
        return (1, -1) if name in FREE_SIGNS else (1,)

    def header(self, name: str, place: int) -> float:
        """Return nats for a column's header meaning a metric."""
        column = self.columns[place]
        if column.settled is not None:
            return 30.0 if column.settled == name else IMPOSSIBLE
        meant = column.meanings
        if not meant:
            return UNNAMED if name not in AIR else IMPOSSIBLE
        own = meant.get(name, 0.0)
        other = max((score for meaning, score in meant.items() if meaning != name), default=0.0)
        if own:
            return HEADER_WEIGHT * (own - max(0.0, other - own))
        return UNNAMED if other < VAGUE and name not in AIR else -HEADER_WEIGHT * other

    def alone(self, name: str, choice: Choice) -> float:
        """Return nats for one choice by itself: header, magnitude, unit and sign."""
        key = ("alone", name, choice)
        if key not in self._cache:
            nats = self.header(name, choice.place)
            weight = 0.5 if name == "club_speed" else 1.0
            nats += weight * physics.magnitude(name, self.canonical(name, choice), self.lofts)
            column = self.columns[choice.place]
            if column.unit is None and name not in self.units:
                nats += RARE.get(choice.unit, 0.0) if name not in SPOTS or choice.unit != "mm" else 0.0
                nats -= 1.0 if choice.unit == "in" and name == "lateral" else 0.0
            if column.side is None and column.hint is not None and name in profile_units.PLUS:
                agrees = (column.hint == profile_units.PLUS[name]) == (choice.sign == 1)
                nats += 2.0 if agrees else -2.0
            if name == "spin_rate" and not column.meanings and float(np.nanmedian(column.values)) > 900:
                nats += TURNS
            if name == "attack_angle" and column.side is None and choice.sign == 1:
                nats += UP_IS_USUAL
            self._cache[key] = nats
        return self._cache[key]  # type: ignore[return-value]

    def energy(self, reading: Reading) -> float:
        """Return nats for a whole reading."""
        nats = sum(self.alone(name, choice) for name, choice in reading.items())
        return nats + self.systems(reading) + sum(term.nats for term in self.terms(reading))

    def systems(self, reading: Reading) -> float:
        """Return nats for units that go together, or do not."""
        units = {name: reading[name].unit for name in (*SPEEDS, *LENGTHS, *SPOTS) if name in reading}
        nats = 0.0
        if len({units[name] for name in SPEEDS if name in units}) > 1:
            nats -= 4.0
        if "carry" in units and "lateral" in units and units["carry"] != units["lateral"]:
            nats -= 1.5 if {units["carry"], units["lateral"]} <= {"yd", "ft"} else 6.0
        speed = units.get("ball_speed") or units.get("club_speed")
        length = units.get("carry") or units.get("lateral")
        if speed and length:
            nats += PAIRED.get((speed, length), 0.0)
        system = "in" if speed in ("mph", "ft/s") or length in ("yd", "ft") else "cm"
        spots = {units[name] for name in SPOTS if name in units}
        nats -= 3.0 * (len(spots) > 1) + 1.0 * (bool(spots) and not spots <= {"mm", system})
        return nats

    def terms(self, reading: Reading) -> list[physics.Term]:
        """Return what ties the metrics of a reading."""
        found = []
        for tie in ties.TIES:
            names = tie.over(reading)
            if names:
                key = (tie, *(reading[name] for name in names), names)
                if key not in self._cache:
                    values = {name: self.canonical(name, reading[name]) for name in names}
                    self._cache[key] = tie.score(values, self.lofts)
                found.append(self._cache[key])
        if {"carry", "ball_speed", "launch_angle"} <= reading.keys():
            found.append(self._carry_term(reading))
        return [term for term in found if term is not None]  # type: ignore[misc]

    def _carry_term(self, reading: Reading) -> physics.Term:
        flown = ("ball_speed", "launch_angle", "spin_rate")
        model_key = ("model", *(reading.get(name) for name in flown))
        if model_key not in self._cache:
            values = {name: self.canonical(name, reading[name]) for name in flown if name in reading}
            self._cache[model_key] = physics.model_carry(values, self.lofts, self.air_density)
        key = ("carry", reading["carry"], model_key)
        if key not in self._cache:
            carry = self.canonical("carry", reading["carry"])
            self._cache[key] = physics.carry_term(carry, self._cache[model_key], self.carry_slack)  # type: ignore[arg-type]
        return self._cache[key]  # type: ignore[return-value]
