"""A small version of the simulation study: a few academies, wide margins. The whole one is run by hand."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from tests.simulation import academies, cells, drill_effect, rows, score
from tests.simulation.scenario import HARD, MIRRORED, MIXED, PLAIN, SCENARIOS
from warehouse.domain.drill_effect import headline as engine


@pytest.fixture(scope="module")
def result() -> drill_effect.Study:
    return drill_effect.study([PLAIN, MIXED], 2, seed=500)


def _row(result: drill_effect.Study, horizon: str, method: str = "engine") -> dict:
    return score.summary(result.cells).filter(horizon=horizon, method=method).row(0, named=True)


@pytest.mark.parametrize("horizon", ["transfer", "retention"])
def test_intervals_cover_the_truth_where_the_naive_reading_does_not(result: drill_effect.Study, horizon: str) -> None:
    engine_row, naive = _row(result, horizon), _row(result, horizon, "after - before")
    # Cells of an academy share students: four academies tell the coverage to about two points.
    assert 0.90 < engine_row["coverage"] < 0.99
    assert naive["aim_coverage"] < engine_row["aim_coverage"] - 0.2


def test_error_at_the_aim_is_a_fraction_of_the_naive_error(result: drill_effect.Study) -> None:
    assert _row(result, "transfer")["aim_of_naive"] < 0.45
    assert abs(_row(result, "transfer")["aim_bias"]) < 0.25 * _row(result, "transfer", "after - before")["aim_bias"]


def test_useless_drills_are_seldom_called_useful_and_good_ones_are_found(result: drill_effect.Study) -> None:
    row, naive = _row(result, "transfer"), _row(result, "transfer", "after - before")
    assert row["false_discoveries"] <= 0.10 < naive["false_discoveries"]
    assert row["power"] > 0.7


def test_forecasts_hold_about_eight_in_ten(result: drill_effect.Study) -> None:
    assert 0.72 < result.forecasts["inside"].mean() < 0.90


def test_bay_offsets_are_far_nearer_than_raw_means(result: drill_effect.Study) -> None:
    from tests.simulation import bays

    assert bays.error(result.bays) < 0.35
    assert 0.88 < result.bays["inside"].mean() < 0.99


@pytest.mark.parametrize("name", ["plain", "mixed", "hard", "all at once"])
def test_the_same_seed_draws_the_same_academy_and_another_seed_another(name: str) -> None:
    one, two = (rows.frames(academies.draw(7, SCENARIOS[name])).episodes for _ in range(2))
    assert one.equals(two)
    assert not one.equals(rows.frames(academies.draw(8, SCENARIOS[name])).episodes)


def test_truth_is_what_the_same_shots_without_the_drill_would_have_shown() -> None:
    academy = academies.draw(3, HARD)
    frames = rows.frames(academy)
    both = frames.episodes.join(frames.truth, on=["episode_id", "metric"])
    free = both.filter(pl.col("drill_id").is_null())
    assert free["shift"].abs().max() == 0
    assert free["log_spread"].abs().max() == 0
    drilled = both.filter(pl.col("drill_id").is_not_null() & (pl.col("metric") == pl.col("aim_metric")))
    exact = academy.drills.size[[int(d[1:]) for d in drilled["drill_id"]]] == 0
    assert np.abs(drilled["shift"].to_numpy()[exact]).mean() < np.abs(drilled["shift"].to_numpy()[~exact]).mean() / 2
    # What is left at the next session is never more than what the drill did, and of the same sign.
    carried = drilled.filter(pl.col("carried").is_not_null())
    assert (carried["carried"].abs() <= carried["shift"].abs() + 1e-12).all()


def test_a_constant_added_to_one_bay_moves_its_offset_and_no_effect_on_a_metric_without_sides() -> None:
    # Offsets sum to zero, so all bays together move by a part of the constant. For a metric that flips with the hand
    # that is to the right for one hand and to the left for the other, and zero itself moves for distances.
    academy = academies.draw(5, MIXED)
    before = rows.frames(academy)
    for hit, bay, left in {
        id(part[name].centre): (part[name], part["bay"], academy.students.left[part["student"]])
        for parts, names in ((academy.visits, ("hit",)), (academy.episodes, ("pre", "post")))
        for part in parts
        for name in names
    }.values():
        hit.centre[:] += 2.0 * (bay == 1)[:, None] * np.where(MIRRORED & left[:, None], -1.0, 1.0)
    after = rows.frames(academy)
    moved = after.offsets["bay_offset"] - before.offsets["bay_offset"]
    assert (moved.filter(after.offsets["bay_id"] == "B001") > 1.5).all()
    pair = engine.estimate(before.episodes).join(engine.estimate(after.episodes), on=cells.KEY, suffix="_after")
    pair = pair.filter(pl.col("metric").is_in(["attack_angle", "ball_speed"]))
    assert pair.height > 50
    for name in ("effect", "ci_low", "check_effect"):
        kept = pair.filter(pl.col(name).is_not_null())
        assert np.abs((kept[name] - kept[f"{name}_after"]).to_numpy()).max() < 1e-6


def test_a_constant_added_after_one_drill_moves_its_effect_by_that_constant() -> None:
    frames = rows.frames(academies.draw(5, MIXED))
    drill = frames.episodes["drill_id"].drop_nulls().unique().sort()[0]
    moved = frames.episodes.with_columns(
        pl.col("post_centre") + pl.when(pl.col("drill_id") == drill).then(1.5).otherwise(0.0)
    )
    keys = cells.KEY
    pair = engine.estimate(frames.episodes).join(engine.estimate(moved), on=keys, suffix="_moved")
    pair = pair.filter((pl.col("measure") == "centre") & (pl.col("horizon") == "transfer"))
    change = pair["effect_moved"] - pair["effect"]
    mine = (pair["drill_id"] == drill).to_numpy()
    # A second drill in the same session starts from the first one's post block, which is its own pre block here.
    assert change.filter(pl.Series(mine)).to_list() == pytest.approx([1.5] * int(mine.sum()))
    assert np.abs(change.filter(pl.Series(~mine)).drop_nulls().to_numpy()).max() < 1e-9


def test_a_log_with_other_names_and_gaps_keeps_every_ball_and_no_drill_is_made_up() -> None:
    academy = academies.draw(3, SCENARIOS["log"])
    said = rows.frames(academy).episodes
    logged = rows.as_logged(academy, said)
    both = said.join(logged, on=["episode_id", "metric"], suffix="_logged")
    assert both.height == said.height
    assert both.filter(pl.col("drill_id").is_null() & pl.col("drill_id_logged").is_not_null()).is_empty()
    drills = both.filter(pl.col("drill_id").is_not_null(), pl.col("metric") == "club_path")
    lost = drills["drill_id_logged"].is_null().mean()
    wrong = (drills["drill_id_logged"] != drills["drill_id"]).fill_null(False).mean()
    assert 0.04 < lost < 0.13
    assert 0.04 < wrong < 0.14
    assert both["post_centre"].equals(both["post_centre_logged"])


def test_a_replaced_device_is_seen_within_a_week_and_its_bays_offset_comes_back() -> None:
    from tests.simulation import bays

    academy = academies.draw(5, SCENARIOS["device"])
    frames = rows.frames(academy)
    begun = frames.offsets.filter(pl.col("from_date").is_not_null())
    assert begun["bay_id"].unique().to_list() == ["B001"]
    # The bay has a session or two of that club on most days.
    assert abs((begun["from_date"][0] - rows.changed_on(academy)).days) <= 7
    assert bays.error(bays.score(frames, academy)) < 0.35
