"""Sources of a carry change: they add up, they find what was planted, they turn sign when time is turned."""

from __future__ import annotations

from itertools import product

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from warehouse.domain.delivery.carry_decomposition import PARTS, shapley, split, summary
from warehouse.domain.delivery.impact import MEASURED_SPIN_SHARE, launch
from warehouse.domain.flight.trajectory import fly


def block(speed=45.0, attack=-3.0, loft=13.0, contact=0.98, spin=1.0, beyond=0.4, extra=0.0):
    """Return a block's centres as the model makes them, its carry with `extra` metres from elsewhere."""
    ball = launch(speed, attack, 0, 0, loft, spin_share=MEASURED_SPIN_SHARE)
    values = {
        "club_speed": speed, "attack_angle": attack, "dynamic_loft": loft, "ball_speed": ball.ball_speed * contact,
        "launch_angle": ball.launch_angle + beyond, "spin_rate": ball.spin_rate * spin,
    }  # fmt: skip
    carry = fly(**{name: values[name] for name in ("ball_speed", "launch_angle", "spin_rate")}).carry + extra
    return {name: np.atleast_1d(np.asarray(value, dtype=float)) for name, value in (values | {"carry": carry}).items()}


states = st.fixed_dictionaries(
    {"speed": st.floats(30, 55), "attack": st.floats(-7, 7), "loft": st.floats(9, 22), "contact": st.floats(0.85, 1.03),
     "spin": st.floats(0.6, 1.4), "beyond": st.floats(-2, 2), "extra": st.floats(-20, 20)}
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(states, states)
def test_the_parts_and_the_remainder_add_up_to_the_change(before, after):
    row = split(block(**before), block(**after)).row(0, named=True)
    assert sum(row[name] for name in (*PARTS, "remainder")) == pytest.approx(row["carry_change"], abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(states, states)
def test_exchanging_before_and_after_turns_every_sign(before, after):
    one, other = split(block(**before), block(**after)), split(block(**after), block(**before))
    for name in (*PARTS, "remainder"):
        assert one[name].item() == pytest.approx(-other[name].item(), abs=1e-6)


@pytest.mark.parametrize(
    ("change", "part"),
    [({"speed": 47.0}, "club_speed"), ({"contact": 1.0}, "contact"), ({"attack": 1.0}, "attack_angle"),
     ({"loft": 15.0}, "dynamic_loft"), ({"spin": 1.2}, "spin"), ({"extra": 6.0}, "remainder")],
)  # fmt: skip
def test_a_change_of_one_thing_is_laid_to_that_thing_alone(change, part):
    row = split(block(), block(**change)).row(0, named=True)
    assert row[part] == pytest.approx(row["carry_change"], abs=0.02)
    assert abs(row[part]) > 0.3
    assert sum(abs(row[name]) for name in (*PARTS, "remainder") if name != part) < 0.05


def test_launch_beyond_the_delivery_falls_to_the_remainder():
    row = split(block(beyond=-1.0), block(beyond=1.0)).row(0, named=True)
    assert row["remainder"] == pytest.approx(row["carry_change"], abs=0.02)


def test_without_spin_on_both_sides_the_spin_part_is_null_and_the_rest_still_adds_up():
    before, after = block(), block(attack=2.0, spin=1.2)
    before["spin_rate"] = np.array([np.nan])
    row = split(before, after).row(0, named=True)
    assert row["spin"] is None
    assert row["spin_source"] == "modelled"
    rest = sum(row[name] for name in (*PARTS, "remainder") if name != "spin")
    assert rest == pytest.approx(row["carry_change"], abs=1e-9)


@pytest.mark.parametrize("name", ["club_speed", "attack_angle", "dynamic_loft", "ball_speed", "launch_angle", "carry"])
def test_any_other_missing_input_makes_the_row_null(name):
    before = block()
    before[name] = np.array([np.nan])
    out = split(before, block(speed=46.0))
    assert out.null_count().sum_horizontal().item() == len(out.columns)


def test_no_episodes_give_a_typed_empty_frame():
    nothing = {name: value[:0] for name, value in block().items()}
    empty = split(nothing, nothing)
    assert empty.height == 0
    assert empty.schema == split(block(), block()).schema


def test_shapley_values_are_those_of_the_glove_game():
    # One left glove and two right ones: 2/3, 1/6, 1/6 (Shapley 1953; the standard textbook example).
    worth = {c: np.array(float(c[0] and (c[1] or c[2]))) for c in product((0, 1), repeat=3)}
    np.testing.assert_allclose([float(v) for v in shapley(worth)], [2 / 3, 1 / 6, 1 / 6])


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(-1e3, 1e3), min_size=32, max_size=32))
def test_shapley_parts_sum_to_the_whole(values):
    worth = {c: np.array(v) for c, v in zip(product((0, 1), repeat=5), values, strict=True)}
    total = worth[1, 1, 1, 1, 1] - worth[0, 0, 0, 0, 0]
    assert sum(float(v) for v in shapley(worth)) == pytest.approx(float(total), abs=1e-8)


def test_many_episodes_are_split_as_each_alone():
    before, after = block(np.array([40.0, 50.0])), block(np.array([41.0, 50.0]), attack=0.0)
    both = split(before, after)
    second = split({k: v[-1:] if v.size > 1 else v for k, v in before.items()},
                   {k: v[-1:] if v.size > 1 else v for k, v in after.items()})  # fmt: skip
    assert isinstance(both, pl.DataFrame)
    for name in PARTS:
        assert both[name][1] == pytest.approx(second[name][0], abs=1e-9)


def episode(student, change, spin, **group):
    """Return an episode whose parts add up to its change."""
    parts = dict(zip((f"from_{part}" for part in PARTS), (1.0, -2.0, 3.0, 0.5, spin), strict=True))
    remainder = change - sum(value for value in parts.values() if value is not None)
    place = {"grouped_by": "drill", "group_id": "D1", "club_group": "driver", "student_id": student} | group
    return place | parts | {"carry_change": change, "remainder": remainder}


def test_the_mean_parts_of_a_group_add_up_even_where_spin_was_not_always_measured():
    rows = [episode(f"S{n % 6}", 4.0 + n, None if n % 3 else 2.0 + n) for n in range(14)]
    row = summary(pl.DataFrame(rows)).row(0, named=True)
    assert sum(row[f"from_{part}"] for part in PARTS) + row["remainder"] == pytest.approx(
        row["carry_change"], abs=1e-12
    )
    others = [f"from_{part}" for part in PARTS if part != "club_speed"]
    assert row["from_delivery"] == pytest.approx(sum(row[name] for name in others), abs=1e-12)
    assert (row["episodes"], row["students"]) == (14, 6)
    assert row["carry_change_low"] < row["carry_change"] < row["carry_change_high"]


def test_a_student_with_many_episodes_counts_once_in_a_group_and_an_episode_in_each_of_its_groups():
    rows = [episode("S0", 10.0, 1.0) for _ in range(9)] + [episode("S1", 0.0, 1.0)]
    rows += [episode("S1", 0.0, 1.0, grouped_by="cohort", group_id="spring")]
    found = summary(pl.DataFrame(rows)).sort("grouped_by")
    assert found.select("grouped_by", "carry_change", "students").rows() == [("cohort", 0.0, 1), ("drill", 5.0, 2)]
