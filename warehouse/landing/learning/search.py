"""The search for the likeliest reading: columns, units and signs changed one by one and together while it gains.

Not here: what a reading is worth (readings.py).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from warehouse.landing.learning.readings import (
    ALIKE,
    FREE_SIGNS,
    LENGTHS,
    NAMES,
    SIDED,
    SPEEDS,
    SPOTS,
    UNNAMED,
    Choice,
    Evidence,
    Reading,
)

PLAIN = 5.0
"""A header that means a number this well names it plainly."""


def choices(evidence: Evidence, name: str, place: int) -> list[Choice]:
    """Return every way in which a column may give a metric."""
    units, signs = evidence.units_for(name, place), evidence.signs_for(name, place)
    return [Choice(place, unit, sign) for unit, sign in product(units, signs)]


def best_reading(evidence: Evidence) -> Reading:
    """Return the likeliest reading of all columns; what a header names plainly stays in it, for a person to judge."""
    reading = _likeliest(evidence)
    taken = {choice.place for choice in reading.values()}
    for place, column in evidence.columns.items():
        name = max(column.meanings, key=lambda one: column.meanings[one], default="")
        if place in taken or name not in NAMES or name in reading or column.meanings[name] < PLAIN:
            continue
        if options := choices(evidence, name, place):
            best = max(options, key=lambda choice: (evidence.energy({**reading, name: choice}), choice.sign))
            reading = {**reading, name: best}
    return reading


def _likeliest(evidence: Evidence) -> Reading:
    """Return the reading of most nats."""
    reading = _by_themselves(evidence)
    energy = evidence.energy(reading)
    for _ in range(6):
        before = energy
        for move in (_column_moves, unit_moves):
            for changed in list(move(evidence, reading)):
                value = evidence.energy(changed)
                if value > energy + 1e-6:
                    reading, energy = changed, value
        reading, energy = best_signs(evidence, reading)
        if energy <= before + 1e-6:
            return reading
    return reading


def _by_themselves(evidence: Evidence) -> Reading:
    """Return the likeliest reading where nothing ties the metrics, to begin with."""
    from scipy.optimize import linear_sum_assignment

    places = list(evidence.columns)
    gain = np.zeros((len(NAMES), len(places) + len(NAMES)))
    best: dict[tuple[int, int], Choice] = {}
    for row, name in enumerate(NAMES):
        for at, place in enumerate(places):
            options = choices(evidence, name, place)
            if options:
                best[row, at] = max(options, key=lambda choice: (evidence.alone(name, choice), choice.sign))
                # Nothing ties them yet: a column whose header says nothing is tried first and dropped later.
                gain[row, at] = evidence.alone(name, best[row, at]) - UNNAMED + 3.0
    rows, taken = linear_sum_assignment(-gain)
    return {
        NAMES[row]: best[row, at]
        for row, at in zip(rows, taken, strict=True)
        if (row, at) in best and gain[row, at] > 0
    }


def _column_moves(evidence: Evidence, reading: Reading) -> Iterator[Reading]:
    """Yield readings in which one metric has another column, or none, or two have changed columns."""
    held = {choice.place: name for name, choice in reading.items()}
    for name in NAMES:
        old = reading.get(name)
        if old is not None:
            yield {other: choice for other, choice in reading.items() if other != name}
        for place in evidence.columns:
            if old is not None and old.place == place:
                continue
            owner = held.get(place)
            likened = owner is not None and any({owner, name} <= alike for alike in ALIKE)
            if evidence.header(name, place) < UNNAMED - 0.5 and not likened:
                continue
            rest = {other: choice for other, choice in reading.items() if other != name and choice.place != place}
            for choice in choices(evidence, name, place):
                yield {**rest, name: choice}
                if owner is not None and old is not None:
                    yield from (
                        {**rest, name: choice, owner: swapped} for swapped in choices(evidence, owner, old.place)
                    )
                elif owner is None and old is not None:
                    yield from _handed_over(evidence, {**rest, name: choice}, old.place)


def _handed_over(evidence: Evidence, reading: Reading, place: int) -> Iterator[Reading]:
    """Yield readings in which a column that was given up gives a metric that has none."""
    for name in NAMES:
        if name not in reading and evidence.header(name, place) >= -0.5:
            yield from ({**reading, name: choice} for choice in choices(evidence, name, place))


def unit_moves(evidence: Evidence, reading: Reading) -> Iterator[Reading]:
    """Yield readings in which one metric, or all of a kind, or both kinds, have another unit."""
    for name, choice in reading.items():
        for unit in evidence.units_for(name, choice.place):
            if unit != choice.unit:
                yield {**reading, name: Choice(choice.place, unit, choice.sign)}
    for speed, length in product((None, "m/s", "km/h", "mph", "ft/s"), (None, "m", "yd", "ft")):
        wanted = {**dict.fromkeys(SPEEDS, speed), **dict.fromkeys(LENGTHS, length)}
        changed = dict(reading)
        for name, unit in wanted.items():
            if unit and name in reading and unit in evidence.units_for(name, reading[name].place):
                changed[name] = Choice(reading[name].place, unit, reading[name].sign)
        if changed != reading:
            yield changed
    for unit in ("mm", "cm", "in"):
        spots = {
            name: Choice(reading[name].place, unit, reading[name].sign)
            for name in SPOTS
            if name in reading and unit in evidence.units_for(name, reading[name].place)
        }
        if spots:
            yield {**reading, **spots}


def sign_readings(evidence: Evidence, reading: Reading) -> Iterator[Reading]:
    """Yield the reading with every pattern of right and left, and with the other signs turned one by one."""
    sided = [name for name in SIDED if name in reading]
    options = [evidence.signs_for(name, reading[name].place) for name in sided]
    for signs in product(*options):
        yield {
            **reading,
            **{
                name: Choice(reading[name].place, reading[name].unit, sign)
                for name, sign in zip(sided, signs, strict=True)
            },
        }


def best_signs(evidence: Evidence, reading: Reading) -> tuple[Reading, float]:
    """Return the reading with its likeliest signs; of two that are equally likely the one with plus to the right."""
    best = max(sign_readings(evidence, reading), key=lambda one: (round(evidence.energy(one), 6), _right(one)))
    for name in ("attack_angle", "impact_toe", "impact_high"):
        if name in best:
            turned = [
                Choice(best[name].place, best[name].unit, sign) for sign in evidence.signs_for(name, best[name].place)
            ]
            best = max(
                ({**best, name: choice} for choice in turned),
                key=lambda one: (round(evidence.energy(one), 6), one[name].sign),
            )
    return best, evidence.energy(best)


def _right(reading: Reading) -> int:
    return sum(reading[name].sign for name in SIDED if name in reading)


@dataclass(frozen=True)
class Margin:
    """By how many nats the best reading beats the best one that differs in one point, and that one."""

    nats: float
    other: Choice | None
    otherwise: Reading


def margins(evidence: Evidence, reading: Reading) -> dict[tuple[str, str], Margin]:
    """Return (metric, "column" | "unit" | "sign") -> margin, for every metric of a reading."""
    best = evidence.energy(reading)
    found: dict[tuple[str, str], Margin] = {}
    seen: set[frozenset[tuple[str, Choice]]] = set()
    turned = [
        {**reading, name: Choice(choice.place, choice.unit, -choice.sign)}
        for name, choice in reading.items()
        if name in FREE_SIGNS and len(evidence.signs_for(name, choice.place)) > 1
    ]
    for moves in (
        _column_moves(evidence, reading),
        unit_moves(evidence, reading),
        sign_readings(evidence, reading),
        turned,
    ):
        for other in moves:
            key = frozenset(other.items())
            if key in seen or other == reading:
                continue
            seen.add(key)
            nats = best - evidence.energy(other)
            for name, choice in reading.items():
                there = other.get(name)
                if there is None or there.place != choice.place:
                    aspect = "column"
                elif there.unit != choice.unit:
                    aspect = "unit"
                elif there.sign != choice.sign:
                    aspect = "sign"
                else:
                    continue
                if (name, aspect) not in found or nats < found[name, aspect].nats:
                    found[name, aspect] = Margin(nats, there, other)
    return found


def turned_against(evidence: Evidence, reading: Reading, name: str, reference: str) -> float:
    """Return by how many nats the signs of two metrics go together as they do, rather than the one turned."""
    best = evidence.energy(reading)
    together = reading[name].sign * reading[reference].sign
    others = [
        evidence.energy(one)
        for one in sign_readings(evidence, reading)
        if one[name].sign * one[reference].sign != together
    ]
    return best - max(others) if others else 99.0
