"""Available carry: the table against direct evaluation, its order, and its edges."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from warehouse.domain.delivery.carry_grid import COEFFICIENT_SETS, best_carry_by_attack, carry_by_delivery
from warehouse.domain.delivery.reachable_carry import ATTACK_HIGH, Reach, best_over_loft, carry_available
from warehouse.domain.flight.trajectory import fly

MPH, YD = 0.44704, 0.9144


def test_reading_the_table_adds_under_a_twentieth_of_a_yard():
    rng = np.random.default_rng(3)
    speed, density = rng.uniform(5, 70, 500), rng.uniform(0.7, 1.4, 500)
    direct, _ = best_over_loft(speed, density, ATTACK_HIGH, Reach())
    assert np.abs(carry_available(speed, air_density=density) - direct).max() / YD < 0.05


def test_no_delivery_on_a_fine_grid_within_reach_carries_further():
    grid = carry_by_delivery([40.0, 50.0], np.linspace(-5, ATTACK_HIGH, 11), np.arange(5, 30.01, 0.1))
    best = grid.group_by("club_speed", maintain_order=True).agg(pl.col("carry").max())
    np.testing.assert_allclose(carry_available([40.0, 50.0]), best["carry"].to_numpy(), atol=0.05)


def test_carry_rises_steadily_with_attack_at_100_mph():
    # Common practice, no source.
    line = best_carry_by_attack(100 * MPH, -2.0)
    assert np.all(np.diff(line["carry"].to_numpy()) > 0.5)


def test_the_same_player_gains_at_least_20_yards_from_6_down_to_6_up():
    # Common practice, no source: 170 mph hit 6° down at loft 7° about 190 yd, 6° up with the ball a little slower 260.
    down = carry_by_delivery(115 * MPH, -6.0, 7.0)["carry"].item()
    up, _ = best_over_loft(114 * MPH, 1.225, 6.0, Reach())
    assert (up - down) / YD > 20


def test_a_narrower_reach_gives_less_and_can_differ_by_shot():
    carry = carry_available(45.0, attack_high=[5.0, 2.0, -3.0])
    assert np.all(np.diff(carry) < -0.5)
    assert carry[0] == carry_available(45.0)


def test_range_balls_have_less_available():
    carry = carry_available(45.0, ball_factor=[1.0, 0.97])
    assert 2 < carry[0] - carry[1] < 15


def test_what_is_outside_the_table_or_missing_has_no_available_carry():
    carry = carry_available([np.nan, 4.9, 70.1, 45, 45, 70, 5], air_density=[1.2, 1.2, 1.2, 1.5, np.nan, 1.2, 1.2])
    assert np.isnan(carry).tolist() == [True, True, True, True, True, False, False]
    assert np.isnan(carry_available(45.0, attack_high=np.nan))
    assert carry_available([]).shape == (0,)


def test_the_band_has_no_width_at_the_players_own_attack_and_holds_the_line():
    line = best_carry_by_attack(45.0, -2.0)
    own = line.filter(line["attack_angle"] == -2.0)
    assert own["carry_low"].item() == pytest.approx(own["carry_high"].item(), abs=1e-9)
    assert (line["carry_low"] <= line["carry"]).all()
    assert (line["carry_high"] >= line["carry"]).all()
    assert (line["carry_high"] - line["carry_low"]).max() > 1.0


def test_the_first_two_coefficient_sets_span_the_published_spread():
    # Published coefficient sets spread over 244 to 312 yd for one launch.
    ends = [fly(ball_speed=176 * MPH, launch_angle=10, spin_rate=2520, drag_factor=d, lift_factor=k).carry / YD
            for d, k in COEFFICIENT_SETS[:2]]  # fmt: skip
    np.testing.assert_allclose(ends, [244, 312], atol=2)
