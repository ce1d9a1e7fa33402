"""How well readings of columns fit what golfers do and what impact and flight make of it, in nats.

A reading gives metrics arrays in canonical units and signs. Scores are logarithms of odds against what has nothing to
do with the metric: 0 says nothing. Not here: which readings are tried (readings.py).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from warehouse.domain.flight.trajectory import fly
from warehouse.landing.learning.expected_values import AIR, TYPICAL, Floats, Typical, middles
from warehouse.schema.metrics import EXPORTED_BY_NAME

LEAST_ROWS = 6
MOST_NATS = 12.0
TIED = 5.0
"""Weight of a relation between columns: nats for each e-fold by which it narrows the scatter."""
CARRY_SLACK, CARRY_SLACK_AT_SITE = 0.10, 0.055
"""How far carries as given lie from the model's, as a ratio: balls and coefficient sets; and the altitude, where it is
not known."""

Values = Mapping[str, Floats]


@dataclass(frozen=True)
class Term:
    """One thing that speaks for or against a reading: which metrics it ties, how much, and in words."""

    metrics: tuple[str, ...]
    nats: float
    words: str = ""


def middle_and_scatter(values: Floats) -> tuple[float, float]:
    """Return the median and a robust standard deviation; nan where there are too few values."""
    sound = values[np.isfinite(values)]
    if sound.size < 2:
        return (float(sound[0]) if sound.size else float("nan")), float("nan")
    middle = float(np.median(sound))
    return middle, 1.4826 * float(np.median(np.abs(sound - middle))) + 1e-9


def magnitude(name: str, values: Floats, lofts: Floats) -> float:
    """Return how well one metric's values lie where golfers' do."""
    if name in AIR:
        centre, spread = AIR[name]
        return -min(MOST_NATS, 0.5 * ((float(np.nanmedian(values)) - centre) / spread) ** 2)
    typical = TYPICAL[name]
    number = EXPORTED_BY_NAME[name]
    sound = np.isfinite(values)
    if not sound.any():
        return -MOST_NATS
    outside = float(np.mean((values[sound] < number.low) | (values[sound] > number.high)))
    z = _departures(typical, values, lofts)
    centre, scatter = middle_and_scatter(z)
    if not np.isfinite(centre):
        return -MOST_NATS
    nats = 0.5 * centre**2 + 20.0 * max(0.0, outside - 0.05)
    if np.isfinite(scatter) and np.sum(np.isfinite(z)) >= LEAST_ROWS:
        usual = max(typical.within / typical.between, 0.3)
        width = 0.9 if name not in ("impact_toe", "impact_high", "lateral") else 0.55
        nats += 0.5 * (max(abs(np.log(scatter / usual)) - 0.5, 0.0) / width) ** 2
    return -min(MOST_NATS, float(nats))


def _departures(typical: Typical, values: Floats, lofts: Floats) -> Floats:
    middle, wider = middles(typical, lofts)
    if typical.ratio:
        with np.errstate(invalid="ignore", divide="ignore"):
            off = np.log(np.where(values > 0, values, np.nan) / middle)
    else:
        off = values - middle
    return off / (typical.between * wider)


def narrowing(target: Floats, residual: Floats, floor: float = 0.0) -> float:
    """Return nats for how much a relation narrows a metric's scatter; below 0 where it widens it."""
    both = np.isfinite(target) & np.isfinite(residual)
    if both.sum() < LEAST_ROWS:
        return 0.0
    _, before = middle_and_scatter(target[both])
    _, after = middle_and_scatter(residual[both])
    strength = min(1.0, both.sum() / 25)
    return TIED * strength * float(np.clip(np.log((before + floor) / (after + floor)), -1.2, 1.6))


def agreement(one: Floats, other: Floats) -> float:
    """Return the correlation of two arrays, far values drawn in; 0 where too few pairs are known."""
    both = np.isfinite(one) & np.isfinite(other)
    if both.sum() < LEAST_ROWS:
        return 0.0
    drawn = []
    for values in (one[both], other[both]):
        middle, scatter = middle_and_scatter(values)
        drawn.append(np.clip(values - middle, -2.5 * scatter, 2.5 * scatter))
    if min(values.std() for values in drawn) < 1e-9:
        return 0.0
    return float(np.corrcoef(*drawn)[0, 1])


def without(values: Floats, given: Floats) -> Floats:
    """Return what is left of an array once a straight line over another is taken off."""
    both = np.isfinite(values) & np.isfinite(given)
    if both.sum() < LEAST_ROWS or np.std(given[both]) < 1e-9:
        return values
    drawn = [np.clip(a[both], *np.percentile(a[both], (3, 97))) for a in (given, values)]
    slope, level = np.polyfit(*drawn, 1) if np.std(drawn[0]) > 1e-9 else (0.0, 0.0)
    return values - level - slope * given


def directed(one: Floats, other: Floats) -> float:
    """Return nats for two arrays that must rise together: gained where they do, lost where one falls."""
    rank = agreement(one, other)
    rows = int(np.sum(np.isfinite(one) & np.isfinite(other)))
    if abs(rank) <= 2.0 / np.sqrt(max(rows, 1)):
        return 0.0
    return float(np.sign(rank) * TIED * min(1.0, rows / 25) * -0.5 * np.log(1 - min(rank * rank, 0.96)))


def carry_term(carry: Floats, model: Floats, slack: float = CARRY_SLACK) -> Term:
    """Return how carries as given compare with the flight model's."""
    with np.errstate(invalid="ignore", divide="ignore"):
        off = np.log(np.where((carry > 3) & (model > 3), carry / model, np.nan))
        level = np.log(np.where(model > 3, model, np.nan))
    centre, scatter = middle_and_scatter(off)
    if not np.isfinite(centre):
        return Term(("carry",), 0.0)
    nats = -min(MOST_NATS, 0.5 * (centre / slack) ** 2)
    if np.isfinite(scatter):
        nats -= 0.5 * (max(np.log(scatter / 0.08), 0.0) / 0.8) ** 2
    if nats > -5:
        nats += max(0.0, narrowing(level, off, 0.02))
    return Term(
        ("carry", "ball_speed", "launch_angle"),
        max(-MOST_NATS, nats),
        f"carry is {np.exp(centre):.2f} of what the flight model gives",
    )


def model_carry(values: Values, lofts: Floats, air_density: float) -> Floats:
    """Return the flight model's carry of each shot; typical spin of the club where none is given."""
    ball, launch = values["ball_speed"], values["launch_angle"]
    spin = values.get("spin_rate")
    usual = middles(TYPICAL["spin_rate"], lofts)[0]
    spin = usual if spin is None else np.where(np.isfinite(spin), spin, usual)
    sound = (ball > 2) & (ball < 100) & (launch > -10) & (launch < 80)
    return fly(
        ball_speed=np.where(sound, ball, np.nan),
        launch_angle=launch,
        spin_rate=np.clip(spin, 200, 15000),
        air_density=air_density,
        engine="numpy",
    ).carry
