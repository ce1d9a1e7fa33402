"""Units and signs against their definitions: the international yard of 1959 and the SI."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.warehouse.landing.conftest import PLAIN, Academy
from warehouse.landing.units import PLUS, UNITS, scale, units_for, words_for
from warehouse.schema.metrics import MEASURED, METRIC

YARD = Fraction(9144, 10000)  # m, exactly: international yard and pound agreement, 1 July 1959
FOOT, INCH, MILE = YARD / 3, YARD / 36, YARD * 1760
METRES_OR_SECONDS = {
    "m/s": Fraction(1),
    "km/h": Fraction(1000, 3600),
    "mph": MILE / 3600,
    "ft/s": FOOT,
    "m": Fraction(1),
    "yd": YARD,
    "ft": FOOT,
    "in": INCH,
    "cm": Fraction(1, 100),
    "mm": Fraction(1, 1000),
    "deg": Fraction(1),
    "rpm": Fraction(1),
}


def test_every_unit_is_exactly_its_definition() -> None:
    assert {name: Fraction(unit.times, unit.over) for name, unit in UNITS.items()} == METRES_OR_SECONDS


def test_the_inch_is_25_4_millimetres_exactly() -> None:
    assert Fraction(*scale("impact_toe", "in", None)) == Fraction(254, 10)


@pytest.mark.parametrize(("metric", "unit"), [(metric.name, unit) for metric in MEASURED for unit in units_for(metric)])
def test_a_value_in_any_unit_loads_in_the_canonical_one(academy: Academy, metric: str, unit: str) -> None:
    canonical = METRES_OR_SECONDS[METRIC[metric].unit]
    value = float(Fraction(str(METRIC[metric].high)) / 2 * canonical / METRES_OR_SECONDS[unit])
    columns = {"ball_speed": ("ball", "m/s"), "launch_angle": ("launch", "deg")}
    said = {"ball": "60", "launch": "12"}
    columns[metric], said["tried"] = ("tried", unit), repr(value)
    lines = [f'{name} = {{ from = "{source}", unit = "{given}" }}' for name, (source, given) in columns.items()]
    academy.profile("plain", PLAIN.split("ball_speed")[0] + "\n".join(lines))
    header = "time,who,club," + ",".join(said)
    academy.export("01.csv", f"{header}\n2024-02-19T10:00:00,007,driver,{','.join(said.values())}\n")
    assert academy.night().warnings == []
    (loaded,) = academy.rows(f'select "{metric}" from raw.shot')[0]
    assert loaded == pytest.approx(METRIC[metric].high / 2, rel=1e-14)


@pytest.mark.parametrize(("value", "loads"), [("252", True), ("252.0000001", False)])
def test_a_limit_met_exactly_in_another_unit_is_within_it(academy: Academy, value: str, loads: bool) -> None:
    # 70 m/s, the limit of club speed, is 252 km/h exactly.
    academy.profile(
        "plain", PLAIN.replace('carry = { from = "carry", unit = "m"', 'club_speed = { from = "carry", unit = "km/h"')
    )
    academy.export("01.csv", f"time,who,club,ball,launch,carry\n2024-02-19T10:00:00,007,driver,60,12,{value}\n")
    assert academy.night().rows_loaded == int(loads)


@pytest.mark.parametrize("metric", sorted(PLUS))
def test_the_other_word_turns_the_sign_and_the_canonical_one_does_not(metric: str) -> None:
    plus, minus = words_for(METRIC[metric])
    unit = METRIC[metric].unit
    assert Fraction(*scale(metric, unit, plus)) == 1
    assert Fraction(*scale(metric, unit, minus)) == -1


def test_left_and_down_and_heel_and_low_load_turned(academy: Academy) -> None:
    signed = {
        "club_path": "left", "attack_angle": "down", "impact_toe": "heel", "impact_high": "low", "lateral": "left",
    }  # fmt: skip
    lines = [
        f'{name} = {{ from = "{name}", unit = "{METRIC[name].unit}", positive = "{word}" }}'
        for name, word in signed.items()
    ]
    academy.profile("plain", PLAIN + "\n".join(lines))
    said = ",".join(signed)
    academy.export("01.csv", f"time,club,ball,launch,{said}\n2024-02-19T10:00:00,driver,60,12,1,2,3,-4,5\n")
    academy.night()
    quoted = ", ".join(f'"{name}"' for name in signed)
    assert academy.rows(f"select {quoted} from raw.shot") == [(-1.0, -2.0, -3.0, 4.0, -5.0)]
