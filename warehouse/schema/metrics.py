"""Every number a shot can have: unit, limits, what is better, and the smallest change that matters.

One declaration a metric. From here come the shot columns, the limits a row is held to, `mart.metric`, and the
defaults that academy.toml may override. Not here: how a metric is computed (warehouse/domain, warehouse/models).
"""

from __future__ import annotations

from dataclasses import dataclass, field

MS_PER_MPH = 0.44704
M_PER_YD = 0.9144

METRIC_SYSTEM = {"mph": ("km/h", 1 / 3.6), "yd": ("m", 1.0)}
"""A unit shown -> what the metric system shows instead, and the canonical size of one of it (SI brochure)."""

CLUB_GROUPS = ("driver", "wood", "iron", "wedge")
CLUBS: dict[str, str] = (
    {"driver": "driver"}
    | {f"wood-{n}": "wood" for n in (3, 5, 7)}
    | {f"hybrid-{n}": "wood" for n in range(2, 7)}
    | {f"iron-{n}": "iron" for n in range(1, 10)}
    | {f"wedge-{kind}": "wedge" for kind in ("pitching", "gap", "sand", "lob")}
)
"""Canonical club -> club group."""


@dataclass(frozen=True)
class Metric:
    """One number of a shot.

    `better` maps a club group (or "any") to "up", "down" or "zero" (nearer to zero, as a distance); a group that is
    missing has no better direction in the trade. `matters_from` is the smallest change that matters, in `unit`.
    `of_ball` numbers change when the balls do; the others are of the club alone. A shot needs a `required` number,
    except that a whole make of exports `may_lack` it, if its profile says so.
    """

    name: str
    label: str
    unit: str
    display_unit: str
    per_display_unit: float
    decimals: int
    low: float
    high: float
    matters_from: float
    description: str
    better: dict[str, str] = field(default_factory=dict)
    mirrored: bool = False
    of_ball: bool = False
    derived: bool = False
    required: bool = False
    may_lack: bool = False

    def better_for(self, club_group: str) -> str | None:
        """Return "up", "down", "zero" or None for a club group ("any" asks for all groups alike)."""
        return self.better.get(club_group, self.better.get("any"))

    def shown_in(self, system: str) -> tuple[str, float]:
        """Return the unit that "imperial" or "metric" shows it in, and the canonical size of one."""
        shown = (self.display_unit, float(self.per_display_unit))
        return METRIC_SYSTEM.get(self.display_unit, shown) if system == "metric" else shown


DRIVER_UP = {"driver": "up"}
NEAR_ZERO = {"any": "zero"}

METRICS: tuple[Metric, ...] = (
    Metric("club_speed", "club speed", "m/s", "mph", MS_PER_MPH, 1, 5, 70, 0.9,
           "Speed of the club head just before impact.", DRIVER_UP),
    Metric("attack_angle", "attack angle", "deg", "deg", 1, 1, -15, 15, 1,
           "Vertical direction of the club head at impact; up is plus.", DRIVER_UP),
    Metric("club_path", "club path", "deg", "deg", 1, 1, -25, 25, 1,
           "Horizontal direction of the club head at impact; in to out is plus after mirroring.", NEAR_ZERO,
           mirrored=True),
    Metric("face_angle", "face angle", "deg", "deg", 1, 1, -30, 30, 1,
           "Horizontal direction of the face at impact against the target line; open is plus after mirroring.",
           NEAR_ZERO, mirrored=True),
    Metric("dynamic_loft", "dynamic loft", "deg", "deg", 1, 1, -5, 75, 1,
           "Loft of the face at impact against the horizon."),
    Metric("launch_direction", "launch direction", "deg", "deg", 1, 1, -45, 45, 1,
           "Horizontal direction in which the ball starts; right is plus, mirrored for left-handers.", NEAR_ZERO,
           mirrored=True, of_ball=True),
    Metric("launch_angle", "launch angle", "deg", "deg", 1, 1, -10, 80, 1,
           "Vertical angle at which the ball starts.", required=True, may_lack=True, of_ball=True),
    Metric("ball_speed", "ball speed", "m/s", "mph", MS_PER_MPH, 1, 2, 100, 0.9,
           "Speed of the ball just after impact.", DRIVER_UP, required=True, of_ball=True),
    Metric("spin_rate", "spin rate", "rpm", "rpm", 1, 0, 0, 15000, 250,
           "Total spin of the ball just after impact.", of_ball=True),
    Metric("spin_axis", "spin axis", "deg", "deg", 1, 1, -90, 90, 3,
           "Tilt of the spin axis; tilted right is plus, mirrored for left-handers.", NEAR_ZERO, mirrored=True,
           of_ball=True),
    Metric("carry", "carry", "m", "yd", M_PER_YD, 0, 0, 360, 4.5,
           "Distance from the ball to where it first lands, as the bay gives it.", DRIVER_UP, of_ball=True),
    Metric("lateral", "lateral", "m", "yd", M_PER_YD, 0, -150, 150, 4.5,
           "Sideways distance of the landing point from the target line; right is plus, mirrored for left-handers.",
           NEAR_ZERO, mirrored=True, of_ball=True),
    Metric("impact_toe", "impact toe", "mm", "mm", 1, 0, -45, 45, 3,
           "Where on the face the ball was struck; toward the toe is plus.", NEAR_ZERO),
    Metric("impact_high", "impact high", "mm", "mm", 1, 0, -35, 35, 3,
           "Where on the face the ball was struck; high is plus.", NEAR_ZERO),
    Metric("face_to_path", "face to path", "deg", "deg", 1, 1, -40, 40, 1,
           "Face angle less club path; open to the path is plus after mirroring.", NEAR_ZERO, mirrored=True,
           derived=True),
    Metric("spin_loft", "spin loft", "deg", "deg", 1, 1, -5, 80, 1,
           "Dynamic loft less attack angle.", derived=True),
    Metric("smash_factor", "smash factor", "ratio", "ratio", 1, 2, 0.4, 1.6, 0.02,
           "Ball speed over club speed.", DRIVER_UP, derived=True, of_ball=True),
    Metric("carry_gap", "carry shortfall", "m", "yd", M_PER_YD, 0, 0, 360, 4.5,
           "What this club speed could carry with the best reachable delivery, less what the measured launch carries "
           "by the model.", {"driver": "down"}, derived=True, of_ball=True),
)  # fmt: skip


@dataclass(frozen=True)
class Circumstance:
    """What an export may say of the air a ball flew through: nothing of the golfer's, so no metric.

    Limits as a metric's: a row with a value outside them is rejected.
    """

    name: str
    label: str
    unit: str
    low: float
    high: float
    description: str
    required: bool = False


AIR: tuple[Circumstance, ...] = (
    Circumstance("air_temperature", "air temperature", "degC", -40, 60, "Temperature of the air at the bay."),
    Circumstance("air_pressure", "air pressure", "hPa", 450, 1100,
                 "Pressure of the air at the bay itself, not reduced to sea level."),
    Circumstance("air_humidity", "relative humidity", "%", 0, 100, "Relative humidity of the air at the bay."),
)  # fmt: skip

METRIC: dict[str, Metric] = {metric.name: metric for metric in METRICS}
MEASURED: tuple[Metric, ...] = tuple(metric for metric in METRICS if not metric.derived)
DERIVED: tuple[Metric, ...] = tuple(metric for metric in METRICS if metric.derived)
EXPORTED: tuple[Metric | Circumstance, ...] = (*MEASURED, *AIR)
"""Every number an export may give of a shot."""
EXPORTED_BY_NAME: dict[str, Metric | Circumstance] = {number.name: number for number in EXPORTED}
