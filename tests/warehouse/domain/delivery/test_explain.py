"""A delivery read in words: order, numbers, units, and what could not be told."""

from __future__ import annotations

from collections import namedtuple

import numpy as np
import polars as pl
import pytest

from warehouse.domain.delivery.explain import read_deliveries
from warehouse.domain.delivery.explain_costs import NEEDS, carry_costs
from warehouse.domain.delivery.impact import MEASURED_SPIN_SHARE, launch
from warehouse.domain.delivery.reachable_carry import Reach, best_over_loft
from warehouse.domain.flight.trajectory import fly

DOWN = {
    "club_speed": 50.5, "attack_angle": -5.1, "dynamic_loft": 9.0, "ball_speed": 72.0, "launch_angle": 6.0,
    "spin_rate": 2900.0, "club_path": -3.0, "face_angle": 0.0, "launch_direction": -0.6, "spin_axis": 9.0,
}  # fmt: skip

Line = namedtuple("Line", "kind metric cost text")


def read_delivery(centres, club_group, **options):
    """Return the lines of one delivery."""
    columns = {name: pl.Series([centres.get(name)], dtype=pl.Float64) for name in NEEDS}
    lines = read_deliveries(pl.DataFrame(columns | {"club_group": [club_group]}), **options)
    return [Line(*row) for row in lines.select("kind", "metric", "cost", "sentence").iter_rows()]


def test_the_dearest_comes_first_and_the_unknown_last():
    lines = read_delivery(DOWN | {"face_angle": None}, "driver")
    told = [line for line in lines if line.kind != "unknown"]
    assert lines[: len(told)] == told
    assert len(told) < len(lines)
    costs = [line.cost for line in told]
    assert costs == sorted(costs, reverse=True)


def test_hitting_down_is_named_with_its_angle_and_yards():
    line = next(line for line in read_delivery(DOWN, "driver") if line.metric == "attack_angle")
    assert line.text.startswith(f"5.1° down: about {line.cost / 0.9144:.0f} yd of carry at this club speed (113 mph)")
    assert line.cost / 0.9144 > 10


def test_metric_units_say_metres_and_kilometres_an_hour():
    text = " ".join(line.text for line in read_delivery(DOWN, "driver", units="metric"))
    assert " m " in text
    assert "182 km/h" in text
    assert " yd" not in text
    assert "mph" not in text


def test_an_open_face_is_read_as_a_curve_to_the_right_and_a_closed_one_to_the_left():
    closed = DOWN | {"face_angle": -6.0, "spin_axis": -9.0}
    right, left = (
        next(line for line in read_delivery(delivery, "driver") if line.metric == "spin_axis")
        for delivery in (DOWN, closed)
    )
    assert right.text.startswith("Face 3.0° open to path: curves")
    assert right.text.endswith("to the right.")
    assert left.text.startswith("Face 3.0° closed to path: curves")
    assert left.text.endswith("to the left.")
    assert left.cost == pytest.approx(right.cost, rel=0.1)


def test_the_best_reachable_delivery_costs_nothing():
    _, loft = best_over_loft(45.0, 1.225, 5.0, Reach())
    ball = launch(45.0, 5.0, 0, 0, loft, spin_share=MEASURED_SPIN_SHARE)
    centres = {name: float(value) for name, value in vars(ball).items()} | {
        "club_speed": 45.0, "attack_angle": 5.0, "dynamic_loft": float(loft), "club_path": 0.0, "face_angle": 0.0,
    }  # fmt: skip
    assert read_delivery(centres, "driver") == []


@pytest.mark.parametrize("name", ["dynamic_loft", "spin_rate", "attack_angle"])
def test_what_was_not_measured_is_named(name):
    lines = read_delivery(DOWN | {name: None}, "driver")
    words = {"dynamic_loft": "dynamic loft", "spin_rate": "spin rate", "attack_angle": "attack angle"}
    assert any(line.kind == "unknown" and f"no {words[name]}" in line.text for line in lines)
    assert not any(line.metric == name and line.kind != "unknown" for line in lines)


def test_an_iron_is_read_for_direction_only_and_says_so():
    lines = read_delivery(DOWN, "iron")
    assert {line.kind for line in lines} == {"direction", "unknown"}
    assert any("not the aim" in line.text for line in lines)
    assert any("outside its measured range" in line.text for line in lines)


def test_many_deliveries_read_together_read_as_each_alone():
    deliveries = [DOWN, DOWN | {"attack_angle": 2.0, "spin_rate": None}, DOWN | {"face_angle": None}, {}, DOWN]
    groups = ["driver", "driver", "iron", "driver", "wedge"]
    columns = {name: pl.Series([delivery.get(name) for delivery in deliveries], dtype=pl.Float64) for name in NEEDS}
    together = read_deliveries(pl.DataFrame(columns | {"club_group": groups}))
    for at, (delivery, group) in enumerate(zip(deliveries, groups, strict=True)):
        mine = together.filter(pl.col("delivery") == at)
        assert mine["place"].to_list() == list(range(1, mine.height + 1))
        alone = read_delivery(delivery, group)
        assert [tuple(row) for row in mine.select("kind", "metric", "sentence").iter_rows()] == [
            (line.kind, line.metric, line.text) for line in alone
        ]
        assert mine["cost"].to_list() == pytest.approx([line.cost for line in alone], abs=1e-9)


def test_the_steps_of_carry_add_up_to_the_best_less_the_measured_launch():
    values = {name: np.array([value]) for name, value in DOWN.items()}
    cost = carry_costs(values, 1.1, 4.0)
    best = best_over_loft(50.5, 1.1, 4.0, Reach())[0]
    measured = fly(ball_speed=72.0, launch_angle=6.0, spin_rate=2900.0, air_density=1.1).carry
    assert cost.attack + cost.loft + cost.strike + cost.launch + cost.spin == pytest.approx(best - measured, abs=1e-9)


def test_thinner_air_is_read_with_the_air_given():
    frame = pl.DataFrame([DOWN | {"club_group": "driver", "air_density": density} for density in (1.225, 1.0)])
    thick, thin = (
        read_deliveries(frame).filter((pl.col("delivery") == at) & (pl.col("metric") == "attack_angle"))["cost"][0]
        for at in (0, 1)
    )
    assert thick != pytest.approx(thin, rel=0.02)


def test_a_student_whose_reach_is_set_lower_is_charged_less_for_hitting_down():
    frame = pl.DataFrame([DOWN | {"club_group": "driver", "attack_high": high} for high in (5.0, 1.0)])
    lines = read_deliveries(frame).filter(pl.col("metric") == "attack_angle")
    assert lines["cost"][0] > lines["cost"][1]
    assert lines["sentence"][1].endswith("against 1.0° up.")
