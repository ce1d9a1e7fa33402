"""The per-shot columns: measured, modelled, null, and the gap's limits."""

from __future__ import annotations

import polars as pl
import pytest

from warehouse.domain.delivery.reachable_carry import carry_available
from warehouse.domain.flight.shot_flight import shot_columns
from warehouse.domain.flight.trajectory import fly

SHOT = {
    "club_speed": 45.0, "attack_angle": -3.0, "dynamic_loft": 12.0, "club_path": 0.0, "face_angle": 1.0,
    "ball_speed": 64.0, "launch_angle": 10.0, "launch_direction": 0.8, "spin_rate": 2900.0, "spin_axis": 3.0,
    "air_density": 1.2, "club_group": "driver",
}  # fmt: skip


def columns(*changes, **options):
    rows = [SHOT | change for change in changes]
    schema = {name: pl.String if name == "club_group" else pl.Float64 for name in rows[0]}
    return shot_columns(pl.DataFrame(rows, schema=schema), **options)


def test_a_fully_measured_drive_has_all_columns_and_the_gap_is_their_difference():
    row = columns({}).row(0, named=True)
    flight = fly(ball_speed=64, launch_angle=10, spin_rate=2900, spin_axis=3, air_density=1.2)
    assert row["model_carry"] == pytest.approx(float(flight.carry))
    assert row["model_spin_source"] == "measured"
    assert row["carry_available"] == pytest.approx(float(carry_available(45.0, air_density=1.2)))
    assert row["carry_gap"] == pytest.approx(row["carry_available"] - row["model_carry"])


def test_missing_spin_is_modelled_only_where_the_whole_delivery_was_measured():
    out = columns({"spin_rate": None}, {"spin_axis": None}, {"spin_rate": None, "club_path": None})
    assert out["model_spin_source"].to_list() == ["modelled", "modelled", None]
    assert out["model_carry"].is_null().to_list() == [False, False, True]


@pytest.mark.parametrize("name", ["ball_speed", "launch_angle", "air_density"])
def test_without_what_a_flight_needs_there_is_no_model_carry(name):
    row = columns({name: None}).row(0, named=True)
    assert row["model_carry"] is None
    assert row["model_spin_source"] is None
    assert row["carry_gap"] is None


def test_without_club_speed_there_is_a_model_carry_and_no_gap():
    row = columns({"club_speed": None}).row(0, named=True)
    assert row["model_carry"] is not None
    assert row["carry_available"] is None
    assert row["carry_gap"] is None


def test_only_club_groups_with_a_reachable_range_have_available_carry():
    out = columns({}, {"club_group": "iron"}, {"club_group": None})
    assert out["carry_available"].is_null().to_list() == [False, True, True]
    with_woods = columns({"club_group": "wood"}, reachable={"wood": 0.0})
    assert with_woods["carry_available"].null_count() == 0


def test_a_shot_that_beats_its_available_carry_has_no_gap_and_can_be_counted():
    out = columns({"ball_speed": 72.0, "launch_angle": 15.0, "spin_rate": 2400.0})
    assert out["carry_gap"].item() is None
    assert out.filter(pl.col("model_carry") > pl.col("carry_available")).height == 1


def test_a_students_own_limit_and_balls_are_used_where_given():
    out = columns({"attack_high": None, "ball_factor": None}, {"attack_high": 0.0, "ball_factor": None},
                  {"attack_high": None, "ball_factor": 0.95})  # fmt: skip
    plain, narrow, slow = out["carry_available"].to_list()
    assert narrow < plain - 1
    assert slow < plain - 1


def test_an_empty_night_has_typed_empty_columns():
    out = columns({}).clear()
    empty = shot_columns(pl.DataFrame([SHOT]).clear())
    assert empty.schema == out.schema


def test_the_standard_carry_is_of_the_same_launch_at_sea_level_with_a_premium_ball():
    out = columns({"ball_factor": 0.96}, {"ball_factor": None}, {"air_density": 1.225})
    premium = fly(ball_speed=[64 / 0.96, 64, 64], launch_angle=10, spin_rate=2900, spin_axis=3, air_density=1.225).carry
    assert out["standard_carry"].to_list() == pytest.approx(premium.tolist())
    assert out["standard_carry"][2] == out["model_carry"][2]


def test_a_warm_day_moves_the_model_carry_and_not_the_standard_one():
    cold, warm = columns({"air_density": 1.27}, {"air_density": 1.15}).iter_rows(named=True)
    assert warm["model_carry"] > cold["model_carry"] + 2
    assert warm["standard_carry"] == cold["standard_carry"]


def test_clubs_outside_the_models_measured_range_have_no_standard_carry():
    out = columns({"club_group": "iron"}, {"club_group": "wedge"}, {"ball_speed": None})
    assert out["standard_carry"].to_list() == [None, None, None]
