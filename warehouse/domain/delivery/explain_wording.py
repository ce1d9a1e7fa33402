"""Angles, distances and speeds as a coach says them. Not here: which of them are said (reading)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from warehouse.schema.metrics import M_PER_YD, METRIC, MS_PER_MPH

Units = Literal["imperial", "metric"]


def missing(what: str, absent: Sequence[str]) -> str:
    """Return the sentence that says what could not be told, and for want of which metrics."""
    why = f"no {', '.join(METRIC[name].label for name in absent)} here" if absent else "it is beyond the flight model"
    return f"Could not tell {what}: {why}."


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
