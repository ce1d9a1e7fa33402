"""Through the whole chain, offset fit included: what a bay adds shows in its offset and in no drill's effect."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest

from demo_data import generate
from tests.brought_in import bring_in, build_whole
from warehouse.connection import private
from warehouse.home import Home
from warehouse.settings.settings import Settings

SHIFT = {"attack_angle": 0.5, "club_path": 0.6}
"""What one bay says too much, deg, in its own frame."""

MOVED = {"attack_angle": "spin_loft", "club_path": "face_to_path"}
"""Shifted metric -> the metric derived from it, which moves with it."""

MODELLED = "carry_gap"
"""Follows attack angle through the flight model, not in a straight line: a shifted bay may move it."""

KEY = ["drill_id", "metric", "measure", "club_group", "horizon"]
EFFECTS = ["effect", "ci_low", "ci_high", "check_effect", "naive_change"]


def evidence(home: Home, bay_id: str | None) -> dict[str, pl.DataFrame]:
    """Load the home's landing folder, add SHIFT to a bay's shots, and build what drill effects need."""
    settings = Settings()
    with private(home) as connection:
        changes = ", ".join(f"{metric} = {metric} + {shift}" for metric, shift in SHIFT.items())
        update = f"update raw.shot set {changes} where bay_id = $1"
        bring_in(connection, home, settings, lambda: connection.execute(update, [bay_id]))
        build_whole(connection, settings, "mart.drill_effect", "mart.bay_offset")
        return {name: connection.execute(f"from {name}").pl() for name in ("mart.bay_offset", "mart.drill_effect")}


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict, dict, str]:
    """The small academy as it is, and again with one bay's numbers shifted."""
    homes = [Home(tmp_path_factory.mktemp("chain") / "home") for _ in range(2)]
    for home in homes:
        home.path.mkdir()
        generate.write_academy(home.landing, small=True)
    as_is = evidence(homes[0], None)
    bay_id = as_is["mart.bay_offset"].sort("overlap_students", "bay_id")["bay_id"][-1]
    return as_is, evidence(homes[1], bay_id), bay_id


def test_a_constant_added_to_one_bay_is_its_offset(pair) -> None:
    before, after, bay_id = pair
    joined = before["mart.bay_offset"].join(after["mart.bay_offset"], on=["bay_id", "metric"], suffix="_after")
    for metric, shift in SHIFT.items():
        of_metric = joined.filter((pl.col("metric") == metric) & pl.col("bay_offset").is_not_null())
        bays = of_metric.height
        moved = dict(zip(of_metric["bay_id"], of_metric["bay_offset_after"] - of_metric["bay_offset"], strict=True))
        # offsets sum to zero over the bays that can be compared
        assert moved.pop(bay_id) == pytest.approx(shift * (1 - 1 / bays), abs=0.02)
        assert list(moved.values()) == pytest.approx([-shift / bays] * (bays - 1), abs=0.02)


def test_a_constant_added_to_one_bay_changes_no_drills_effect(pair) -> None:
    before, after, _ = pair
    compared = before["mart.bay_offset"].filter((pl.col("metric") == "club_path") & pl.col("bay_offset").is_not_null())
    # Offsets are counted from the mean of the bays: of what one bay adds, this much is common to all afterwards.
    common = SHIFT["club_path"] / compared.height
    joined = before["mart.drill_effect"].join(after["mart.drill_effect"], on=KEY, suffix="_after", nulls_equal=True)
    centre = joined.filter((pl.col("measure") == "centre") & pl.col("effect").is_not_null())
    assert centre.height > 300
    assert set(centre.filter(pl.col("metric").is_in(list(SHIFT)))["horizon"]) == {"transfer", "retention"}
    by_club_path = pl.col("metric").is_in(["club_path", MOVED["club_path"]])
    for column in EFFECTS:
        change = centre.filter(pl.col("metric") != MODELLED).select(
            "metric", (pl.col(f"{column}_after") - pl.col(column)).abs().alias("change")
        )
        # Not mirrored: to the last digits.
        assert change.filter(~by_club_path)["change"].max() < 1e-9, column
        # Mirrored: what is common to all bays cannot be told from a difference between the hands, and moves an effect
        # by less than half of itself, as the covariates hold most of it.
        assert change.filter(by_club_path)["change"].max() < 0.5 * common, column


def test_the_made_academy_has_episodes_in_the_shifted_bay(pair) -> None:
    before, after, bay_id = pair
    assert Path(generate.SAMPLE_FOLDER).is_dir()
    offsets = after["mart.bay_offset"].filter((pl.col("bay_id") == bay_id) & (pl.col("metric") == "attack_angle"))
    assert offsets["overlap_students"][0] >= 10
    assert before["mart.drill_effect"].height == after["mart.drill_effect"].height
