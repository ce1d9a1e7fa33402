"""Units, signs and columns that a profile mistakes are named with their cause; right ones are let be."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from warehouse.domain.bays.plausibility import LEAST_SHOTS, faults
from warehouse.domain.flight.trajectory import fly

NIGHT = dt.date(2026, 3, 9)
LOFT = {"driver": 14.0, "iron-7": 28.0}
SPEED = {"driver": (42.0, 1.45), "iron-7": (35.0, 1.34)}


def a_night(seed: int = 1, n: int = 120, bay: str = "B1", club: str = "driver", noise: float = 0.4) -> pl.DataFrame:
    """Shots of one bay by the textbook: start near the face, curve by face to path, launch by loft and attack.

    Start 75% face (Wood et al. 2018: .61 to .83); launch 85% loft (common practice, no source).
    """
    rng = np.random.default_rng(seed)
    speed, smash = SPEED[club]
    club_speed = rng.normal(speed, 1.5, n)
    attack, path, face = rng.normal(0, 2, n), rng.normal(1, 3, n), rng.normal(0.5, 2.5, n)
    loft = rng.normal(LOFT[club], 1.5, n)
    ball_speed = club_speed * rng.normal(smash, 0.02, n)
    launch, start = 0.85 * loft + 0.15 * attack, 0.75 * face + 0.25 * path
    spin, axis = rng.normal(2700, 250, n) * (2.2 if club != "driver" else 1), 2.0 * (face - path)
    flown = fly(ball_speed=ball_speed, launch_angle=launch, launch_direction=start, spin_rate=spin, spin_axis=axis)
    return pl.DataFrame({
        "night": NIGHT, "bay_id": bay, "club": club,
        "club_group": club.split("-", maxsplit=1)[0], "club_speed": club_speed,
        "ball_speed": ball_speed, "attack_angle": attack + rng.normal(0, noise, n),
        "club_path": path + rng.normal(0, noise, n),
        "face_angle": face + rng.normal(0, noise, n), "dynamic_loft": loft + rng.normal(0, noise, n),
        "launch_angle": launch + rng.normal(0, 0.2, n), "launch_direction": start + rng.normal(0, 0.2, n),
        "spin_axis": axis + rng.normal(0, 1.5, n), "carry": flown.carry * rng.normal(1, 0.02, n),
        "lateral": flown.lateral + rng.normal(0, 1, n), "model_carry": flown.carry,
    })  # fmt: skip


def flown_again(shots: pl.DataFrame) -> pl.DataFrame:
    """The same with the model's carry of the numbers as read."""
    flown = fly(
        ball_speed=shots["ball_speed"].to_numpy(), launch_angle=shots["launch_angle"].to_numpy(),
        launch_direction=shots["launch_direction"].to_numpy(), spin_rate=np.full(shots.height, 2700.0),
        spin_axis=shots["spin_axis"].to_numpy(),
    )  # fmt: skip
    return shots.with_columns(model_carry=pl.Series(flown.carry))


@pytest.mark.parametrize("club", ["driver", "iron-7"])
@pytest.mark.parametrize("seed", range(10))
def test_right_numbers_are_let_be(club: str, seed: int) -> None:
    assert faults(a_night(seed, club=club)).is_empty()


def test_one_sided_golfers_and_left_handers_in_the_bays_frame_are_let_be() -> None:
    cutter = a_night(2).with_columns(pl.col("club_path") - 6)
    assert faults(flown_again(cutter.with_columns(launch_direction=pl.col("launch_direction") - 1.5))).is_empty()


def named(shots: pl.DataFrame) -> dict[str, str]:
    found = faults(shots)
    return dict(found.select("metric", "cause").iter_rows())


@pytest.mark.parametrize(
    ("metric", "factor", "cause"),
    [
        ("ball_speed", 1.609344, "km/h read as mph: factor 1.6"),
        ("ball_speed", 1 / 1.609344, "mph read as km/h: factor 0.6"),
        ("ball_speed", 0.44704, "m/s read as mph: factor 0.4"),
        ("club_speed", 1.609344, "km/h read as mph: factor 1.6"),
        ("club_speed", 1 / 1.609344, "mph read as km/h: factor 0.6"),
    ],
)
def test_a_speed_in_another_unit_is_named_with_its_factor(metric: str, factor: float, cause: str) -> None:
    wrong = flown_again(a_night().with_columns(pl.col(metric) * factor))
    assert set(named(wrong)) == {metric}
    assert cause in named(wrong)[metric]


def test_both_speeds_in_another_unit_are_known_by_the_carry() -> None:
    slow = flown_again(a_night().with_columns(pl.col("ball_speed", "club_speed") / 1.609344))
    assert "mph read as km/h" in named(slow)["ball_speed"]


def test_carry_in_feet_is_named() -> None:
    assert "feet read as metres" in named(a_night().with_columns(pl.col("carry") * 3.28084))["carry"]


@pytest.mark.parametrize(
    "metric", ["face_angle", "club_path", "launch_direction", "lateral", "spin_axis", "attack_angle"]
)
def test_a_turned_sign_is_named_by_its_own_column(metric: str) -> None:
    wrong = a_night(n=400).with_columns(-pl.col(metric))
    assert set(named(wrong)) == {metric}
    assert "looks turned" in named(wrong)[metric]


def test_launch_angle_and_direction_in_each_others_column_are_seen() -> None:
    wrong = a_night().with_columns(launch_angle="launch_direction", launch_direction="launch_angle")
    assert "swapped" in named(wrong)["launch_angle"]


def test_little_is_said_of_few_shots_and_nothing_of_numbers_not_measured() -> None:
    assert faults(a_night(n=LEAST_SHOTS - 1).with_columns(pl.col("ball_speed") * 1.609344)).is_empty()
    blank = a_night().with_columns(pl.lit(None, pl.Float64).alias(name) for name in
                                   ("club_speed", "attack_angle", "club_path", "face_angle", "dynamic_loft", "carry",
                                    "lateral", "spin_axis", "model_carry"))  # fmt: skip
    assert faults(blank).is_empty()


def test_each_bay_is_held_against_its_own_shots() -> None:
    both = pl.concat([a_night(), a_night(2, bay="B2").with_columns(pl.col("ball_speed") * 1.609344)])
    assert faults(both)["bay_id"].unique().to_list() == ["B2"]
