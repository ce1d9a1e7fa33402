"""Can a bay's numbers be what its profile says they are: units, signs and columns, from physics within one night.

Smash factor, carry against the flight model, and signs that must go together (start direction with face and path, curve
with face to path, landing side with start, launch with loft and attack angle). Limits are wide: they ask whether a unit
or a sign is mistaken, not whether a device is good. Not here: what a fault leads to (models/stage/bay_fault.py).
"""

from __future__ import annotations

from math import isnan
from typing import Any

import polars as pl

LEAST_SHOTS = 30
"""Shots of a bay and night from which anything is said."""
LEAST_FOR_SIGNS = 40
SURE = -8.0
"""t-value under which a sign is the wrong way round; right ones stand at plus ten and more."""
SMASH = {"driver": 1.45, "wood": 1.43, "iron": 1.34, "wedge": 1.12}
"""Middle smash factor by club group (common practice, no source; at most about 1.5 by the rules' limit of restitution,
Penner 2003, Rep Prog Phys 66:131)."""
SMASH_LOW, SMASH_MOST = 0.72, 1.58
"""Under that share of the club's middle, or above that factor for any club; wedges are not asked: theirs varies."""
CARRY_LOW, CARRY_HIGH = 0.70, 1.32
CARRY_PER_SPEED = 1.7
"""Carry grows about as ball speed to this power over the speeds of play (by the flight model)."""
SPEED_MIXES = {
    "km/h read as mph": 1.609344, "mph read as km/h": 1 / 1.609344, "m/s read as mph": 0.44704,
    "mph read as m/s": 1 / 0.44704, "km/h read as m/s": 3.6, "m/s read as km/h": 1 / 3.6,
    "ft/s read as mph": 0.681818, "mph read as ft/s": 1 / 0.681818,
}  # fmt: skip
"""What is wrong -> by how much the number read is larger than the true one. The first name is the file's unit."""
CARRY_MIXES = {"feet read as metres": 3.28084, "feet read as yards": 3.0, "metres read as feet": 0.3048,
               "yards read as feet": 1 / 3}  # fmt: skip
BALL_SPEEDS = {"driver": (33.0, 90.0), "wood": (30.0, 85.0), "iron": (24.0, 72.0), "wedge": (12.0, 58.0)}
"""m/s in which a night's middle ball speed lies, children and long hitters among them (common practice, no source)."""
SCHEMA: dict[str, Any] = {
    "night": pl.Date, "bay_id": pl.String, "metric": pl.String, "kind": pl.String, "shots": pl.Int64,
    "found": pl.Float64, "low": pl.Float64, "high": pl.Float64, "cause": pl.String,
}  # fmt: skip
"""One row a bay, night and number that cannot be: `found` outside `low` to `high`, and the likely cause in words."""
KEY = ["night", "bay_id"]


def faults(shots: pl.DataFrame) -> pl.DataFrame:
    """Find the numbers of a bay and night that cannot be what their profile says.

    Parameters
    ----------
    shots : one row a shot in the bay's own frame, canonical units: night, bay_id, club, club_group, club_speed,
        ball_speed, attack_angle, club_path, face_angle, dynamic_loft, launch_angle, launch_direction, spin_axis, carry,
        lateral, model_carry; null where not measured.
    """
    found = [*_speeds(shots), *_signs(shots), *_swapped(shots)]
    return pl.DataFrame(found, schema=SCHEMA, orient="row").sort(*KEY, "metric", "kind")


def _row(key: dict[str, Any], metric: str, kind: str, found: float, low: float, high: float, cause: str) -> tuple:
    return key["night"], key["bay_id"], metric, kind, key["shots"], found, low, high, cause


def _speeds(shots: pl.DataFrame) -> list[tuple]:
    """Smash factor and carry that cannot be, with the unit that would explain both."""
    middle = pl.col("club_group").replace_strict(SMASH, return_dtype=pl.Float64)
    low, high = (
        pl.col("club_group").replace_strict({group: ends[n] for group, ends in BALL_SPEEDS.items()},
                                            return_dtype=pl.Float64)
        for n in (0, 1)
    )  # fmt: skip
    reached = pl.col("club_group") != "wedge"
    nights = shots.group_by(KEY, maintain_order=True).agg(
        shots=pl.len(),
        with_smash=(pl.col("ball_speed") / pl.col("club_speed")).filter(reached).count(),
        smash=(pl.col("ball_speed") / pl.col("club_speed") / middle).filter(reached).median(),
        plain_smash=(pl.col("ball_speed") / pl.col("club_speed")).filter(reached).median(),
        with_carry=(pl.col("carry") / pl.col("model_carry")).filter(reached).count(),
        carry=(pl.col("carry") / pl.col("model_carry")).filter(reached).median(),
        too_slow=(pl.col("ball_speed") / low).median(),
        too_fast=(pl.col("ball_speed") / high).median(),
    )
    out: list[tuple] = []
    for night in nights.iter_rows(named=True):
        smash = night["smash"] if night["with_smash"] >= LEAST_SHOTS else None
        carry = night["carry"] if night["with_carry"] >= LEAST_SHOTS else None
        smash_off = smash is not None and (smash < SMASH_LOW or night["plain_smash"] > SMASH_MOST)
        carry_off = carry is not None and not CARRY_LOW <= carry <= CARRY_HIGH
        if smash is not None and smash_off:
            # The column that is wrong: the ball's where carry or its own size says so, else the club's.
            ball = carry_off if carry is not None else night["too_slow"] < 1 or night["too_fast"] > 1
            metric = "ball_speed" if ball else "club_speed"
            factor = smash if ball else 1 / smash
            cause = _named(metric, factor, SPEED_MIXES)
            out.append(_row(night, metric, "smash factor", smash, SMASH_LOW, SMASH_MOST, cause))
        elif carry is not None and carry_off:
            by_speed = carry ** (-1 / CARRY_PER_SPEED)
            as_speed, as_carry = _nearest(by_speed, SPEED_MIXES), _nearest(carry, CARRY_MIXES)
            speeds = night["too_slow"] < 1 or night["too_fast"] > 1 or as_carry[1] > as_speed[1]
            metric = "ball_speed" if speeds else "carry"
            cause = _named(metric, by_speed, SPEED_MIXES) if speeds else _named(metric, carry, CARRY_MIXES)
            out.append(_row(night, metric, "carry against the flight model", carry, CARRY_LOW, CARRY_HIGH, cause))
        elif night["shots"] >= LEAST_SHOTS and (night["too_slow"] or 1) < 1 and carry is None and smash is None:
            cause = _named("ball_speed", night["too_slow"], {})
            out.append(_row(night, "ball_speed", "range of the club", night["too_slow"], 1.0, 1e9, cause))
    return out


def _nearest(factor: float, mixes: dict[str, float]) -> tuple[str, float]:
    """Return the mix-up nearest a factor, and how far off it is as a ratio above 1."""
    away = {name: max(factor / of, of / factor) for name, of in mixes.items()}
    best = min(away, key=lambda name: away[name])
    return best, away[best]


def _named(metric: str, factor: float, mixes: dict[str, float]) -> str:
    """Say what a number looks like."""
    words = metric.replace("_", " ")
    if mixes:
        best, away = _nearest(factor, mixes)
        if away < 1.15:
            return f"{words} looks like {best}: factor {factor:.2f}"
    return f"{words} is {factor:.2f} times what the club and the ball's flight allow: look at its unit"


def _within(name: str) -> pl.Expr:
    """A number less its mean over the bay, night and club."""
    return pl.col(name) - pl.col(name).mean().over(*KEY, "club")


def _partial(shots: pl.DataFrame, y: str, a: str, b: str) -> pl.DataFrame:
    """t-values of a and b in the least squares of y on both, within club, by bay and night: t_a, t_b, n, shots."""
    whole = shots.filter(pl.all_horizontal(pl.col(name).is_not_null() for name in (y, a, b)))
    centred = whole.select(*KEY, y=_within(y), a=_within(a), b=_within(b))
    sums = centred.group_by(KEY, maintain_order=True).agg(
        n=pl.len(),
        **{f"s{p}{q}": (pl.col(p) * pl.col(q)).sum() for p, q in ("aa", "bb", "ab", "ya", "yb", "yy")},
    )
    det = pl.col("saa") * pl.col("sbb") - pl.col("sab") ** 2
    slope_a = (pl.col("sya") * pl.col("sbb") - pl.col("syb") * pl.col("sab")) / det
    slope_b = (pl.col("syb") * pl.col("saa") - pl.col("sya") * pl.col("sab")) / det
    left = (pl.col("syy") - slope_a * pl.col("sya") - slope_b * pl.col("syb")) / (pl.col("n") - 3)
    return sums.filter((pl.col("n") >= LEAST_FOR_SIGNS) & (det > 1e-9)).select(
        *KEY, shots=pl.col("n").cast(pl.Int64),
        t_a=slope_a / (left.clip(1e-12) * pl.col("sbb") / det).sqrt(),
        t_b=slope_b / (left.clip(1e-12) * pl.col("saa") / det).sqrt(),
    )  # fmt: skip


def _signs(shots: pl.DataFrame) -> list[tuple]:
    """Signs that cannot both be right; the column named is the one that the others outvote."""
    measured = shots.with_columns(face_to_path=pl.col("face_angle") - pl.col("club_path"))
    start = {_key(row): row for row in _partial(measured, "launch_direction", "face_angle", "club_path").to_dicts()}
    landing = {_key(row): row for row in _partial(measured, "lateral", "launch_direction", "spin_axis").to_dicts()}
    curve = {_key(row): row for row in _partial(measured, "spin_axis", "face_to_path", "club_path").to_dicts()}
    height = {_key(row): row for row in _partial(measured, "launch_angle", "dynamic_loft", "attack_angle").to_dicts()}
    out: list[tuple] = []
    for key in sorted({*start, *landing, *curve, *height}, key=str):
        face, path = _t(start, key, "t_a"), _t(start, key, "t_b")
        lands, bends, tilts = _t(landing, key, "t_a"), _t(landing, key, "t_b"), _t(curve, key, "t_a")
        turned: dict[str, tuple[float, str]] = {}
        if face < SURE:
            # The start goes against the face: where landing goes against the start too, the start is the odd one.
            odd = "launch_direction" if lands < SURE else "face_angle"
            turned[odd] = (face, "the ball starts opposite to the face")
        elif path < SURE:
            turned["club_path"] = (path, "what the face leaves of the start goes against the path")
        if lands < SURE and "launch_direction" not in turned:
            turned["lateral"] = (lands, "the ball lands opposite to where it starts")
        if "face_angle" not in turned and tilts < SURE:
            turned["spin_axis"] = (tilts, "the axis tilts against face to path")
        elif bends < SURE and "lateral" not in turned and lands > -SURE:
            turned["spin_axis"] = (bends, "the ball bends against its axis")
        if _t(height, key, "t_b") < SURE:
            turned["attack_angle"] = (_t(height, key, "t_b"), "at one loft, hitting up launches lower")
        row = next(of[key] for of in (start, landing, curve, height) if key in of)
        out += [
            _row(row, metric, "sign", t, SURE, 1e9, f"the sign of {metric.replace('_', ' ')} looks turned: {why}")
            for metric, (t, why) in turned.items()
        ]
    return out


def _key(row: dict[str, Any]) -> tuple:
    return row["night"], row["bay_id"]


def _t(of: dict[tuple, dict[str, Any]], key: tuple, name: str) -> float:
    value = of[key][name] if key in of else None
    return 0.0 if value is None or isnan(value) else float(value)


def _swapped(shots: pl.DataFrame) -> list[tuple]:
    """Launch angle and launch direction in each other's column: balls that start flat and far to one side."""
    nights = (
        shots.filter(pl.col("launch_angle").is_not_null() & pl.col("launch_direction").is_not_null())
        .group_by(KEY, maintain_order=True)
        .agg(shots=pl.len(), up=pl.col("launch_angle").median(), aside=pl.col("launch_direction").abs().median(),
             side=pl.col("launch_direction").median())
        .filter((pl.col("shots") >= LEAST_SHOTS) & (pl.col("up").abs() < 4) & (pl.col("side").abs() > 7))
    )  # fmt: skip
    return [
        _row(row, "launch_angle", "swapped", row["up"], 4.0, 60.0,
             f"launch angle and direction look swapped: middle launch {row['up']:.1f}°, start {row['side']:.1f}°")
        for row in nights.iter_rows(named=True)
    ]  # fmt: skip
