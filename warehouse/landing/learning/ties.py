"""Relations between the numbers of a shot that impact and flight make: each scores a reading of the columns it ties.

Not here: how strong agreement is weighed (physics.py).
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass

import numpy as np

from warehouse.landing.learning.expected_values import SMASH, Floats, middles
from warehouse.landing.learning.physics import (
    MOST_NATS,
    Term,
    Values,
    directed,
    middle_and_scatter,
    narrowing,
    without,
)


@dataclass(frozen=True)
class Tie:
    """One relation: the metrics it needs, those it uses where they are there, and those that make it idle."""

    score: Callable[[Values, Floats], Term | None]
    needs: tuple[str, ...]
    uses: tuple[str, ...] = ()
    idle_with: tuple[str, ...] = ()

    def over(self, names: Collection[str]) -> tuple[str, ...]:
        """Return the metrics of a reading that it goes by; none where it does not apply."""
        if not all(name in names for name in self.needs) or any(name in names for name in self.idle_with):
            return ()
        return (*self.needs, *(name for name in self.uses if name in names))


def smash(values: Values, lofts: Floats) -> Term | None:
    """Ball speed over club speed."""
    ball, club = values["ball_speed"], values["club_speed"]
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where((ball > 0) & (club > 0), ball / club, np.nan)
        off = np.log(ratio) - np.log(middles(SMASH, lofts)[0])
        centre, scatter = middle_and_scatter(off)
        if not np.isfinite(centre):
            return None
        wide = SMASH.between * (1.0 if np.isfinite(lofts).mean() > 0.5 else 2.0)
        nats = -0.5 * (centre / wide) ** 2 - 0.5 * (max(np.log(scatter / 0.06), 0.0) / 0.8) ** 2
        gain = max(0.0, narrowing(np.log(ball), off)) if nats > -4 else 0.0
    said = f"ball speed is {np.nanmedian(ratio):.2f} of club speed"
    return Term(("ball_speed", "club_speed"), max(-MOST_NATS, nats) + gain, said)


def launch_under_loft(values: Values, lofts: Floats) -> Term:
    """The ball starts just under the dynamic loft; what the attack adds is less than the spread between models."""
    launch = values["launch_angle"]
    off = launch - 0.85 * values["dynamic_loft"]
    centre, _ = middle_and_scatter(off)
    nats = narrowing(launch, off, 0.3) - min(4.0, 0.5 * (centre / 3.0) ** 2)
    return Term(("launch_angle", "dynamic_loft"), nats, "the ball starts just under the loft")


def launch_follows_attack(values: Values, lofts: Floats) -> Term:
    """What the loft leaves of the launch goes with the attack."""
    loft = values["dynamic_loft"]
    left, attack = without(values["launch_angle"], loft), without(values["attack_angle"], loft)
    return Term(
        ("attack_angle", "launch_angle"),
        0.6 * directed(left, attack),
        "what the loft leaves of the launch follows the attack",
    )


def spin_follows_loft(values: Values, lofts: Floats) -> Term:
    """Spin goes with club speed and spin loft."""
    with np.errstate(invalid="ignore", divide="ignore"):
        loft = np.clip(values["dynamic_loft"] - values["attack_angle"], 1, 80)
        made = np.log(values["club_speed"] * np.sin(np.radians(loft)))
        spin = np.log(np.where(values["spin_rate"] > 0, values["spin_rate"], np.nan))
    return Term(
        ("spin_rate", "attack_angle", "dynamic_loft"),
        0.5 * narrowing(spin, spin - made, 0.03),
        "spin follows loft less attack",
    )


def start_near_face(values: Values, lofts: Floats) -> Term:
    """The ball starts near the face, the path weighing a little."""
    start, face, path = values["launch_direction"], values["face_angle"], values.get("club_path")
    made = 0.8 * face + 0.2 * path if path is not None else face
    return Term(
        ("launch_direction", "face_angle"), narrowing(start, start - made, 0.2), "the ball starts near the face"
    )


def start_follows_path(values: Values, lofts: Floats) -> Term:
    """What the face leaves of the start goes with the path."""
    face = values["face_angle"]
    left, path = without(values["launch_direction"], face), without(values["club_path"], face)
    return Term(
        ("launch_direction", "face_angle", "club_path"),
        0.5 * directed(left, path),
        "what the face leaves of the start follows the path",
    )


def start_toward_path(values: Values, lofts: Floats) -> Term:
    """Where no face is given: the start goes with the path."""
    return Term(
        ("launch_direction", "club_path"),
        0.5 * directed(values["launch_direction"], values["club_path"]),
        "the ball starts toward the path's side",
    )


def axis_follows_face(values: Values, lofts: Floats) -> Term | None:
    """The axis tilts to the side to which the face is open to the path."""
    name = "face_angle" if "face_angle" in values else "launch_direction"
    if name not in values:
        return None
    open_by = values[name] - values["club_path"]
    return Term(
        ("spin_axis", name, "club_path"),
        directed(values["spin_axis"], open_by),
        "the axis tilts to the side to which the face is open",
    )


def _straight(values: Values) -> tuple[Floats, Floats]:
    lateral = values["lateral"]
    reach = values["carry"] if "carry" in values else np.full_like(lateral, 130.0)
    return reach, reach * np.sin(np.radians(values["launch_direction"]))


def lands_where_it_starts(values: Values, lofts: Floats) -> Term:
    """The ball lands where start and axis take it; without the axis, on the side on which it starts."""
    reach, straight = _straight(values)
    if "spin_axis" not in values:
        return Term(
            ("lateral", "launch_direction"),
            directed(values["lateral"], straight) + _slope(values["lateral"], straight),
            "the ball lands on the side on which it starts",
        )
    curve = reach * reach * 0.0011 * np.sin(np.radians(values["spin_axis"]))
    off = values["lateral"] - straight - curve
    return Term(
        ("lateral", "launch_direction", "spin_axis"),
        narrowing(values["lateral"], off, 0.8),
        "the ball lands where start and axis take it",
    )


def _slope(lateral: Floats, straight: Floats) -> float:
    """Return nats against a distance far from what start and carry make it; curves make it up to four times that."""
    _, wide = middle_and_scatter(lateral)
    _, expected = middle_and_scatter(straight)
    if not (wide > 0 and expected > 0):
        return 0.0
    ratio = float(np.log(wide / expected))
    return -min(6.0, 0.5 * (max(ratio - 1.4, -0.7 - ratio, 0.0) / 0.3) ** 2)


def curves_with_axis(values: Values, lofts: Floats) -> Term:
    """The flight curves to the side to which the axis tilts."""
    _, straight = _straight(values)
    return Term(
        ("lateral", "spin_axis"),
        directed(values["lateral"] - straight, values["spin_axis"]),
        "it curves to the side to which the axis tilts",
    )


def leans_with_start(values: Values, lofts: Floats) -> Term:
    """Of two shots with one axis, the one that starts further right lands further right."""
    _, straight = _straight(values)
    axis = values["spin_axis"]
    return Term(
        ("lateral", "launch_direction"),
        0.7 * directed(without(values["lateral"], axis), without(straight, axis)),
        "with the axis aside it lands on the side on which it starts",
    )


def lands_with_axis(values: Values, lofts: Floats) -> Term:
    """Where no start is given: the ball lands on the side to which the axis tilts."""
    return Term(
        ("lateral", "spin_axis"),
        directed(values["lateral"], values["spin_axis"]),
        "the ball lands on the side to which the axis tilts",
    )


TIES = (
    Tie(smash, ("ball_speed", "club_speed")),
    Tie(launch_under_loft, ("launch_angle", "dynamic_loft")),
    Tie(launch_follows_attack, ("launch_angle", "dynamic_loft", "attack_angle")),
    Tie(spin_follows_loft, ("spin_rate", "dynamic_loft", "club_speed", "attack_angle")),
    Tie(start_near_face, ("launch_direction", "face_angle"), ("club_path",)),
    Tie(start_follows_path, ("launch_direction", "face_angle", "club_path")),
    Tie(start_toward_path, ("launch_direction", "club_path"), idle_with=("face_angle",)),
    Tie(axis_follows_face, ("spin_axis", "club_path"), ("face_angle", "launch_direction")),
    Tie(lands_where_it_starts, ("lateral", "launch_direction"), ("carry", "spin_axis")),
    Tie(curves_with_axis, ("lateral", "launch_direction", "spin_axis"), ("carry",)),
    Tie(leans_with_start, ("lateral", "launch_direction", "spin_axis"), ("carry",)),
    Tie(lands_with_axis, ("lateral", "spin_axis"), idle_with=("launch_direction",)),
)
