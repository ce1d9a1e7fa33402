"""Numbers are shown in display units with sign, decimals and interval."""

from __future__ import annotations

import polars as pl
import pytest
from made_numbers import ANGLE, CARRY

from dashboard.shell.number_format import SPREAD, Shown, shown

SPIN = Shown("spin_rate", "spin rate", "rpm", 1.0, 0, 250.0, None)
SMASH = Shown("smash_factor", "smash factor", "", 1.0, 2, 0.02, "up")
SPEED = Shown("club_speed", "club speed", "mph", 0.44704, 1, 0.9, "up")


@pytest.mark.parametrize(
    ("how", "number", "text"),
    [
        (ANGLE, 1.44, "+1.4°"),
        (ANGLE, -0.04, "0.0°"),
        (CARRY, -2.7432, "−3.0 yd"),
        (SPIN, 260.2, "+260 rpm"),
        (SMASH, 0.0134, "+0.013"),
        (SPEED, 0.44704, "+1.0 mph"),
        (SPREAD, -0.08, "−8%"),
        (ANGLE, None, "not known"),
    ],
)
def test_a_change_shows_unit_sign_and_sensible_decimals(how: Shown, number: float | None, text: str) -> None:
    assert how.change(number).replace(" %", "%") == text


def test_units_come_from_the_metric_table_or_the_metric_system() -> None:
    row = {
        "metric": "club_speed",
        "club_group": "driver",
        "label": "club speed",
        "unit": "m/s",
        "display_unit": "mph",
        "per_display_unit": 0.44704,
        "decimals": 1,
        "matters_from": 0.9,
        "better": "up",
    }
    frame = pl.DataFrame([row, row | {"club_group": "iron", "better": None, "matters_from": 1.2}])
    # 36 km/h = 10 m/s exactly; 1 mph = 0.44704 m/s exactly (international mile).
    assert shown(frame, "club_speed", "driver", "imperial").value(44.704) == "100.0 mph"
    assert shown(frame, "club_speed", "driver", "metric").value(10.0) == "36.0 km/h"
    assert shown(frame, "club_speed", "any", "imperial").matters_from == 1.2
    published_in_metric = frame.with_columns(display_unit=pl.lit("km/h"), per_display_unit=pl.lit(1 / 3.6))
    assert shown(published_in_metric, "club_speed", "driver", "imperial").value(44.704) == "100.0 mph"
    assert shown(frame, "club_speed", "any", "imperial").better is None


def test_a_levels_interval_has_the_decimals_of_a_level() -> None:
    assert (CARRY.levels(144.84, 156.45), CARRY.interval(144.84, 156.45)) == ("158 to 171", "158.4 to 171.1")
    assert CARRY.levels(None, 1.0) == "not known"


@pytest.mark.parametrize(("low", "sure"), [(0.3, True), (0.04, False), (0.0, False), (-0.3, False)])
def test_an_interval_is_above_zero_only_as_it_is_printed(low: float, sure: bool) -> None:
    assert ANGLE.surely_above(low) is sure
