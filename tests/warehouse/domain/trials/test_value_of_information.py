"""What to try next: value of information against the tabled loss integral, ranking, a student's four weeks."""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl
import pytest

from warehouse.domain.drill_effect.four_week_plan import PLAN, four_weeks
from warehouse.domain.trials import value_of_information
from warehouse.domain.trials.randomisation import FREE_PRACTICE


def test_the_loss_integral_is_the_tabled_one() -> None:
    # Raiffa & Schlaifer 1961, Applied Statistical Decision Theory, table of the unit normal loss. From memory.
    got = [value_of_information.unit_loss(z) for z in (0.0, 0.5, 1.0, 2.0)]
    assert got == pytest.approx([0.3989, 0.1978, 0.0833, 0.0085], abs=6e-5)


def test_the_value_of_a_trial_is_what_simulated_decisions_gain() -> None:
    rng = np.random.default_rng(1)
    mean, sd, error = 0.3, 0.8, 0.5
    truth = rng.normal(mean, sd, 1_000_000)
    seen = truth + rng.normal(0, error, truth.size)
    after = (mean / sd**2 + seen / error**2) / (1 / sd**2 + 1 / error**2)
    gain = np.where(after > 0, truth, 0.0).mean() - max(mean, 0.0)
    assert value_of_information.sample_information(mean, sd, error) == pytest.approx(gain, abs=0.003)


def test_no_trial_is_worth_more_than_knowing_and_an_endless_one_is_worth_as_much() -> None:
    perfect = value_of_information.perfect_information(0.3, 0.8)
    assert value_of_information.sample_information(0.3, 0.8, 0.3) < perfect
    assert value_of_information.sample_information(0.3, 0.8, 1e-6) == pytest.approx(perfect)
    assert value_of_information.sample_information(0.3, 0.0, 0.3) == 0.0


def effect(drill: str, shrunk: float | None, half: float, **other: Any) -> dict[str, Any]:
    return {
        "drill_id": drill, "metric": "attack_angle", "measure": "centre", "club_group": "driver", "is_aim": True,
        "horizon": "transfer", "better": "up", "matters_from": 1.0, "verdict": "unclear", "shrunk_effect": shrunk,
        "shrunk_low": None if shrunk is None else shrunk - half,
        "shrunk_high": None if shrunk is None else shrunk + half,
    } | other  # fmt: skip


USES = pl.DataFrame({"drill_id": ["D01", "D02", "D03", "D04"], "uses_per_week": [20.0, 20.0, 2.0, 5.0]})


def ranked(*rows: dict[str, Any], **other: Any) -> pl.DataFrame:
    return value_of_information.rank(pl.DataFrame(list(rows)), USES, **other)


def test_doubt_about_what_is_used_often_comes_first() -> None:
    got = ranked(effect("D01", 0.5, 1.5), effect("D02", 0.6, 1.5), effect("D03", 0.5, 1.5), effect("D04", 0.6, 0.2))
    assert got.columns == list(value_of_information.CANDIDATE)
    first = got.row(0, named=True)
    assert (first["drill_id"], first["against"]) == ("D01", "D02") and first["rank"] == 1
    assert got.drop_nulls("rank")["value"].is_sorted(descending=True)


def test_what_is_known_harmful_or_held_is_never_proposed_and_the_reason_is_kept() -> None:
    got = ranked(
        effect("D01", 3.0, 0.5), effect("D02", 0.0, 1.0, verdict="wrong way"), effect("D03", 0.2, 1.0),
        held=frozenset({"D03"}),
    )  # fmt: skip
    assert got["rank"].is_null().all() and got["reason"].is_not_null().all()
    said = {(row["drill_id"], row["against"]): row["reason"] for row in got.iter_rows(named=True)}
    assert "known well enough" in said["D01", FREE_PRACTICE]
    assert "wrong way" in said["D02", FREE_PRACTICE]
    assert "held" in said["D01", "D03"]


def test_a_drill_nothing_is_known_of_is_worth_trying_and_the_sentence_says_so() -> None:
    got = ranked(effect("D01", None, 0.0)).row(0, named=True)
    assert got["rank"] == 1 and "hardly anything is known" in got["sentence"]


def test_renaming_metrics_units_changes_nothing_and_down_is_turned() -> None:
    one = ranked(effect("D01", 0.5, 1.5))
    turned = ranked(effect("D01", -5.0, 15.0, better="down", matters_from=10.0))
    assert turned["value"][0] == pytest.approx(one["value"][0])


def test_fewer_students_in_need_and_a_longer_trial_make_it_worth_less() -> None:
    where = {"metric": ["attack_angle"], "club_group": ["driver"]}
    row = effect("D01", 0.5, 1.5)
    whole = ranked(row)["value"][0]
    half = ranked(row, needing=pl.DataFrame(where | {"share": [0.5]}))["value"][0]
    late = ranked(row, trials=pl.DataFrame(where | {"students": [40], "weeks": [26.0]}))
    assert half == pytest.approx(whole / 2) and late["value"][0] == pytest.approx(whole / 2)
    assert "40 students, about 26 weeks" in late["sentence"][0]


def test_two_that_do_the_same_for_sure_need_no_trial() -> None:
    assert "about the same" in ranked(effect("D01", 0.0, 0.05))["reason"][0]


def forecast(drill: str, expected: float | None, **other: Any) -> dict[str, Any]:
    return {
        "student_id": "0011", "drill_id": drill, "metric": "attack_angle", "measure": "centre", "club_group": "driver",
        "expected_effect": expected, "interval_low": None if expected is None else expected - 1.2,
        "interval_high": None if expected is None else expected + 1.2,
    } | other  # fmt: skip


PATH = {"metric": "club_path", "measure": "distance"}
EFFECTS = pl.DataFrame(
    [
        effect("D01", 1.5, 0.3), effect("D02", 1.0, 0.3), effect("D03", -0.8, 0.3, better="down", **PATH),
        effect("D04", 2.0, 0.3, verdict="wrong way"),
    ]
)  # fmt: skip
FORECASTS = pl.DataFrame(
    [forecast("D01", 1.5), forecast("D02", 1.0), forecast("D03", -0.8, **PATH), forecast("D04", 2.0)]
)


def test_a_students_weeks_take_another_number_before_a_second_drill_for_the_same() -> None:
    plan = four_weeks(FORECASTS, EFFECTS)
    assert list(plan.schema.items()) == list(PLAN.items())
    assert plan["drill_id"].to_list() == ["D01", "D03", "D02"]
    assert plan.select("from_week", "to_week").rows() == [(1, 2), (3, 3), (4, 4)]


def test_the_goal_comes_first_and_held_drills_and_aims_do_not_come() -> None:
    assert four_weeks(FORECASTS, EFFECTS, goal_metric="club_path")["drill_id"][0] == "D03"
    assert "D01" not in four_weeks(FORECASTS, EFFECTS, frozenset({"D01"}))["drill_id"].to_list()
    assert four_weeks(FORECASTS, EFFECTS, held_aims=frozenset({"attack_angle"}))["drill_id"].to_list() == ["D03"]


def test_nothing_is_promised() -> None:
    words = four_weeks(FORECASTS, EFFECTS)["sentence"]
    assert words.str.contains("expected of the next time, .* in eight of ten").all()
    assert "It may also do nothing." in words[1] and "It may also do nothing." not in words[0]


def test_no_drill_that_helps_gives_an_empty_plan() -> None:
    assert four_weeks(FORECASTS.with_columns(expected_effect=pl.lit(None, dtype=pl.Float64)), EFFECTS).is_empty()
