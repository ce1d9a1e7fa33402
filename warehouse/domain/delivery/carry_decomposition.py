"""Where a change in carry came from: club speed, contact, attack angle, dynamic loft, spin, or none of these.

The model's carry is averaged over all orders in which the five can change from before to after (Shapley 1953), so the
parts and the remainder add up to the measured change exactly. Not here: which shots make a block.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from math import factorial

import numpy as np
import polars as pl
from numpy.typing import ArrayLike, NDArray

from warehouse.domain.delivery.impact import MEASURED_SPIN_SHARE, launch
from warehouse.domain.flight.constants import STANDARD_DENSITY
from warehouse.domain.flight.trajectory import fly
from warehouse.domain.statistics.student_means import means_by_student

Floats = NDArray[np.float64]

INPUTS = ("club_speed", "attack_angle", "dynamic_loft", "ball_speed", "launch_angle", "spin_rate", "carry")
"""Block centres that `split` takes, before and after."""
PARTS = ("club_speed", "contact", "attack_angle", "dynamic_loft", "spin")
LEAST_MODEL_SPIN = 200.0
"""Modelled spin (rpm) under which measured spin cannot be expressed as a multiple of it."""


def split(
    pre: Mapping[str, ArrayLike], post: Mapping[str, ArrayLike], *, air_density: ArrayLike = STANDARD_DENSITY
) -> pl.DataFrame:
    """Return the carry change of each episode in parts.

    Parameters
    ----------
    pre, post : mapping
        `INPUTS` -> block centres of n episodes, canonical units, NaN where not measured.
    air_density : array_like
        kg/m^3, the same before and after: weather within a session is not a source.

    Returns
    -------
    polars.DataFrame
        One row an episode, metres: club_speed, contact (ball speed beyond what speed, attack and loft explain, as a
        ratio), attack_angle, dynamic_loft, spin (beyond what the delivery explains, as a ratio), remainder (measured
        change less model's change: wind, the device, launch beyond the delivery), carry_change, and
        spin_source, 'measured' or 'modelled'. Where spin was not measured on both sides, both take the delivery
        model's and `spin` is null: whatever spin did is then in the remainder. Other inputs missing: the row is null.
        The parts that are not null and the remainder add up to carry_change.

    Notes
    -----
    How far the launch angle is from the delivery model's is held at the mean of before and after, so that exchanging
    the two turns every sign.
    """
    before, after = ({name: np.asarray(block[name], dtype=np.float64) for name in INPUTS} for block in (pre, post))
    measured = np.isfinite(before["spin_rate"]) & np.isfinite(after["spin_rate"])
    states = [beyond_delivery(block, measured) for block in (before, after)]
    offset = 0.5 * (states[0].pop("launch_offset") + states[1].pop("launch_offset"))
    carries = {
        chosen: carry_of({part: states[chosen[k]][part] for k, part in enumerate(PARTS)}, offset, air_density)
        for chosen in product((0, 1), repeat=len(PARTS))
    }
    parts = shapley(carries)
    change = after["carry"] - before["carry"]
    known = np.isfinite(change) & np.isfinite(sum(parts))
    remainder = change - sum(parts)
    columns = dict(zip(PARTS, parts, strict=True)) | {"remainder": remainder, "carry_change": change}
    columns = {name: np.where(known, value, np.nan) for name, value in columns.items()}
    columns["spin"] = np.where(measured, columns["spin"], np.nan)
    source = np.where(known, np.where(measured, 2, 1), 0)
    names = {0: None, 1: "modelled", 2: "measured"}
    return pl.DataFrame({name: pl.Series(value, nan_to_null=True) for name, value in columns.items()}).with_columns(
        spin_source=pl.Series(source).replace_strict(names, return_dtype=pl.String)
    )


def beyond_delivery(block: Mapping[str, Floats], spin_measured: NDArray[np.bool_]) -> dict[str, Floats]:
    """Return `PARTS` of one block, contact and spin as ratios to the delivery model, and the launch angle beyond it."""
    model = launch(
        block["club_speed"], block["attack_angle"], 0.0, 0.0, block["dynamic_loft"], spin_share=MEASURED_SPIN_SHARE
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(model.spin_rate >= LEAST_MODEL_SPIN, block["spin_rate"] / model.spin_rate, np.nan)
        contact = block["ball_speed"] / model.ball_speed
    return {
        "club_speed": block["club_speed"],
        "contact": contact,
        "attack_angle": block["attack_angle"],
        "dynamic_loft": block["dynamic_loft"],
        "spin": np.where(spin_measured, ratio, 1.0),
        "launch_offset": block["launch_angle"] - model.launch_angle,
    }


def carry_of(state: Mapping[str, Floats], launch_offset: Floats, air_density: ArrayLike) -> Floats:
    """Return the model's carry (m) of a state of `PARTS`."""
    model = launch(
        state["club_speed"], state["attack_angle"], 0.0, 0.0, state["dynamic_loft"], spin_share=MEASURED_SPIN_SHARE
    )
    return fly(
        ball_speed=model.ball_speed * state["contact"], launch_angle=model.launch_angle + launch_offset,
        spin_rate=model.spin_rate * state["spin"], spin_axis=model.spin_axis, air_density=air_density,
    ).carry  # fmt: skip


def shapley(values: Mapping[tuple[int, ...], Floats]) -> list[Floats]:
    """Return each player's average contribution over all orders (Shapley 1953).

    `values` maps every coalition (0 or 1 for each player) to its value; the result sums to all minus none.
    """
    players = len(next(iter(values)))
    parts = []
    for player in range(players):
        part = np.zeros_like(next(iter(values.values())))
        for without, value in values.items():
            if without[player] == 0:
                size = sum(without)
                weight = factorial(size) * factorial(players - size - 1) / factorial(players)
                part = part + weight * (values[(*without[:player], 1, *without[player + 1 :])] - value)
        parts.append(part)
    return parts


def summary(episodes: pl.DataFrame) -> pl.DataFrame:
    """Return the mean parts of the change in carry by group, each student counting once.

    Parameters
    ----------
    episodes : polars.DataFrame
        grouped_by, group_id, club_group, student_id, carry_change, from_club_speed … from_spin, remainder (m). An
        episode may stand in several groups.

    Returns
    -------
    polars.DataFrame
        grouped_by, group_id, club_group, episodes, students, and carry_change and its parts, each with its 95%
        interval by student (`_low`, `_high`); from_delivery is all parts but club speed together. An episode whose
        spin was not measured has no part from spin: it counts as 0 there, since what spin did is then in its
        remainder; so the means of the parts add up to that of the change.
    """
    group = ["grouped_by", "group_id", "club_group"]
    numbers = ["carry_change", *(f"from_{part}" for part in PARTS), "remainder", "from_delivery"]
    students = (
        episodes.with_columns(pl.col("from_spin").fill_null(0.0))
        .with_columns(from_delivery=pl.sum_horizontal(f"from_{part}" for part in PARTS if part != "club_speed"))
        .group_by([*group, "student_id"])
        .agg(pl.col(numbers).mean(), pl.len().cast(pl.Int64).alias("episodes"))
        .sort(*group, "student_id")
    )
    counted = students.group_by(group).agg(pl.col("episodes").sum())
    return means_by_student(students, group, numbers).join(counted, on=group, maintain_order="left")
