"""What each shot would carry by the model, what its club speed could have carried, and the gap between.

A frame in, a frame out. Nothing is guessed: a number whose inputs were not measured is null. Not here: the physics
(flight, delivery), the table of best carries (reachable).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.delivery.impact import MEASURED_SPIN_SHARE, launch
from warehouse.domain.delivery.reachable_carry import ATTACK_HIGH, carry_available
from warehouse.domain.flight.constants import STANDARD_DENSITY
from warehouse.domain.flight.trajectory import fly
from warehouse.schema.metrics import METRIC

Floats = NDArray[np.float64]

REACHABLE: Mapping[str, float] = {"driver": ATTACK_HIGH}
"""Club group -> most upward attack angle within reach. Groups that are not here have no available carry: with irons
and wedges hitting up is wrong and carry is not the aim."""
DELIVERY = ("club_speed", "attack_angle", "club_path", "face_angle", "dynamic_loft")

LAUNCH = ("ball_speed", "launch_angle", "spin_rate", "spin_axis")


def shot_columns(frame: pl.DataFrame, *, reachable: Mapping[str, float] = REACHABLE) -> pl.DataFrame:
    """Return five columns for each shot, in the frame's order.

    Parameters
    ----------
    frame : polars.DataFrame
        club_speed, attack_angle, dynamic_loft, club_path, face_angle, ball_speed, launch_angle, spin_rate, spin_axis,
        club_group in canonical units; optionally air_density (kg/m^3, else the standard atmosphere's sea level),
        attack_high (deg, this student's own limit; null takes the club group's) and ball_factor (ball speed of the
        bay's balls over that of premium ones; null takes 1). A column that is absent is treated as not measured.
    reachable : mapping
        Club group -> most upward attack angle within reach, deg.

    Returns
    -------
    polars.DataFrame
        model_carry
            m, from the measured launch; null without ball speed, launch angle, and spin rate and axis, measured or
            modelled.
        model_spin_source
            'measured'; 'modelled' where the spin rate or the axis was missing and comes from a fully measured
            delivery; null where there is no model carry.
        carry_available
            m, best carry that this club speed could give; null for club groups without a reachable range. With the
            bay's balls, so that nobody is charged for range balls.
        standard_carry
            m, what the same launch with a premium ball carries on standard air at sea level: ball speed over
            `ball_factor`. For club groups with a reachable range; null where there is no model carry.
        carry_gap
            m, carry_available less model_carry; null where it is outside the metric's limits. A shot that beats its
            own available carry (a strike livelier than the model's, a limit set too low) has no gap: not 0 and not a
            negative number. Count such shots as `model_carry > carry_available`, and read a mean gap with that count:
            it is the mean of the shots that fell short.
    """
    n = frame.height
    values = {name: numbers(frame, name) for name in (*DELIVERY, *LAUNCH)}
    density = numbers(frame, "air_density", STANDARD_DENSITY)
    spin, axis, modelled = spins(values)
    model = fly(
        ball_speed=values["ball_speed"], launch_angle=values["launch_angle"], spin_rate=spin, spin_axis=axis,
        air_density=density,
    ).carry  # fmt: skip
    limit = np.full(n, np.nan)
    own_limit = numbers(frame, "attack_high")
    for group, high in reachable.items():
        mine = frame["club_group"].eq(group).fill_null(False).to_numpy()
        limit[mine] = np.where(np.isnan(own_limit[mine]), high, own_limit[mine])
    factor = numbers(frame, "ball_factor")
    factor = np.where(np.isnan(factor), 1.0, factor)
    available = carry_available(values["club_speed"], air_density=density, attack_high=limit, ball_factor=factor)
    standard = np.full(n, np.nan)
    told = np.isfinite(limit) & np.isfinite(model)
    as_flown = told & (density == STANDARD_DENSITY) & (factor == 1.0)
    standard[as_flown] = model[as_flown]
    again = told & ~as_flown
    standard[again] = fly(
        ball_speed=values["ball_speed"][again] / factor[again], launch_angle=values["launch_angle"][again],
        spin_rate=spin[again], spin_axis=axis[again],
    ).carry  # fmt: skip
    gap = available - model
    with np.errstate(invalid="ignore"):
        gap[(gap < METRIC["carry_gap"].low) | (gap > METRIC["carry_gap"].high)] = np.nan
    known = np.isfinite(model)
    return pl.DataFrame(
        {
            "model_carry": pl.Series(model, nan_to_null=True),
            "model_spin_source": pl.Series(np.where(known, np.where(modelled, 2, 1), 0)).replace_strict(
                {0: None, 1: "measured", 2: "modelled"}, return_dtype=pl.String
            ),
            "carry_available": pl.Series(available, nan_to_null=True),
            "standard_carry": pl.Series(standard, nan_to_null=True),
            "carry_gap": pl.Series(gap, nan_to_null=True),
        }
    )


def spins(values: Mapping[str, Floats]) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return spin rate (rpm), spin axis (deg) and whether either comes from the delivery model."""
    spin, axis = values["spin_rate"].copy(), values["spin_axis"].copy()
    missing = np.isnan(spin) | np.isnan(axis)
    modelled = launch(*(values[name][missing] for name in DELIVERY), spin_share=MEASURED_SPIN_SHARE)
    spin[missing] = np.where(np.isnan(spin[missing]), modelled.spin_rate, spin[missing])
    axis[missing] = np.where(np.isnan(axis[missing]), modelled.spin_axis, axis[missing])
    return spin, axis, missing


def numbers(frame: pl.DataFrame, name: str, absent: float = np.nan) -> Floats:
    """Return a column as floats, NaN for null; `absent` throughout where the frame has no such column."""
    if name not in frame.columns:
        return np.full(frame.height, absent)
    return frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy().copy()
