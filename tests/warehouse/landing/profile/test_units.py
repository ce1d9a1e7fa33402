"""Units and signs against their definitions: the international yard of 1959, the SI, and NIST SP 811, appendix B."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.warehouse.landing.conftest import ANY_LOSS, PLAIN, Academy
from warehouse.landing.exports import load
from warehouse.landing.profile.units import PLUS, UNITS, scale, units_for, words_for
from warehouse.schema.metrics import AIR, EXPORTED_BY_NAME, MEASURED, METRIC

YARD = Fraction(9144, 10000)  # m, exactly: international yard and pound agreement, 1 July 1959
FOOT, INCH, MILE = YARD / 3, YARD / 36, YARD * 1760
MMHG = Fraction("13.5951") * Fraction("9.80665")  # Pa: the conventional millimetre of mercury, NIST SP 811, B.8
BASE_UNITS = {
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
    "hPa": Fraction(100),
    "mbar": Fraction(100),
    "Pa": Fraction(1),
    "mmHg": MMHG,
    "inHg": MMHG * Fraction("25.4"),
    "%": Fraction(1, 100),
}
TEMPERATURES = {"degC", "degF", "K"}


def test_every_unit_is_exactly_its_definition() -> None:
    ratios = {name: Fraction(unit.times, unit.over) for name, unit in UNITS.items() if name not in TEMPERATURES}
    assert ratios == BASE_UNITS
    assert {name for name, unit in UNITS.items() if unit.plus} <= TEMPERATURES


def canonical(name: str, value: str, unit: str) -> Fraction:
    """Return a value in the number's canonical unit."""
    times, over, plus = scale(name, unit, None)
    return (Fraction(value) * times + plus) / over


def test_the_inch_is_25_4_millimetres_exactly() -> None:
    assert canonical("impact_toe", "1", "in") == Fraction(254, 10)


@pytest.mark.parametrize(
    ("value", "unit", "celsius"),
    [
        ("0", "K", "-273.15"),
        ("273.16", "K", "0.01"),
        ("32", "degF", "0"),
        ("212", "degF", "100"),
        ("-40", "degF", "-40"),
        ("21.5", "degC", "21.5"),
    ],
)
def test_a_temperature_is_that_of_its_scales_definition(value: str, unit: str, celsius: str) -> None:
    # SI: t/degC = T/K - 273.15, the triple point of water at 273.16 K; NIST SP 811, B.8: t/degC = (t/degF - 32)/1.8.
    assert canonical("air_temperature", value, unit) == Fraction(celsius)


@pytest.mark.parametrize(
    ("value", "unit"), [("760", "mmHg"), ("29.92126", "inHg"), ("1013.25", "mbar"), ("101325", "Pa")]
)
def test_the_standard_atmosphere_is_1013_25_hectopascals_in_every_unit(value: str, unit: str) -> None:
    # ISO 2533: 101325 Pa, 760 mmHg, 29.92126 inHg.
    assert float(canonical("air_pressure", value, unit)) == pytest.approx(1013.25, abs=2e-4)


@pytest.mark.parametrize(("metric", "unit"), [(metric.name, unit) for metric in MEASURED for unit in units_for(metric)])
def test_a_value_in_any_unit_loads_in_the_canonical_one(academy: Academy, metric: str, unit: str) -> None:
    base = BASE_UNITS[METRIC[metric].unit]
    value = float(Fraction(str(METRIC[metric].high)) / 2 * base / BASE_UNITS[unit])
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
    assert Fraction(*scale(metric, unit, plus)[:2]) == 1
    assert Fraction(*scale(metric, unit, minus)[:2]) == -1


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


AIR_COLUMNS = """
air_temperature = { from = "temp", unit = "degF", optional = true }
air_pressure = { from = "press", unit = "inHg", optional = true }
air_humidity = { from = "humid", unit = "%", optional = true }
"""
AIR_HEADER = "time,who,club,ball,launch,carry,temp,press,humid\n"


def struck(second: int, *air: str) -> str:
    """Return one line with what it says of the air."""
    return f"2024-02-19T10:00:{second:02d},007,driver,60,12,200,{','.join(air)}\n"


def test_the_air_loads_in_canonical_units_and_what_is_not_said_stays_null(academy: Academy) -> None:
    academy.profile("plain", PLAIN + AIR_COLUMNS)
    academy.export("01.csv", AIR_HEADER + struck(1, "68", "29.92126", "50") + struck(2, "", "", ""))
    academy.night()
    first, second = academy.rows("select air_temperature, air_pressure, air_humidity from raw.shot order by line")
    assert first == pytest.approx((20.0, 1013.25, 50.0), abs=2e-4)
    assert second == (None, None, None)


def test_air_outside_its_limits_rejects_the_row_as_any_other_number_does(academy: Academy) -> None:
    academy.profile("plain", PLAIN + AIR_COLUMNS)
    lines = [struck(1, "140", "", ""), struck(2, "141", "", ""), struck(3, "", "", "101"), struck(4, "warm", "", "")]
    academy.export("01.csv", AIR_HEADER + "".join(lines))
    academy.night(limits=ANY_LOSS)
    assert academy.rows("select air_temperature from raw.shot") == [(60.0,)]  # 140 degF is 60 degC exactly
    assert academy.faults() == [
        (3, "air_temperature", "141", "outside limits"),
        (4, "air_humidity", "101", "outside limits"),
        (5, "air_temperature", "warm", "unparsable"),
    ]
    (detail,) = academy.rows("select detail from raw.rejected_row where line = 3")[0]
    assert detail == "'temp' (degF) comes to 60.556 degC, and only -40 to 60 is possible"


def test_a_table_of_raw_shots_made_before_the_air_was_read_gains_its_columns(academy: Academy) -> None:
    academy.export("01.csv", "time,who,club,ball,launch,carry\n2024-02-19T10:00:00,007,driver,60,12,200\n")
    academy.night()
    for air in AIR:
        academy.rows(f"alter table raw.shot drop column {air.name}")
    load.create_tables(academy.con)
    assert academy.rows("select carry, air_temperature, air_pressure, air_humidity from raw.shot") == [
        (200.0, None, None, None)
    ]
    academy.profile("plain", PLAIN + AIR_COLUMNS)
    academy.export("01.csv", AIR_HEADER + struck(1, "50", "", ""))
    academy.night()
    assert academy.rows("select air_temperature from raw.shot") == [(10.0,)]


def test_a_profile_that_names_the_air_in_another_kinds_unit_is_told_which_would_do(academy: Academy) -> None:
    academy.profile("plain", PLAIN + AIR_COLUMNS.replace("inHg", "degC"))
    reason = academy.reason("01.csv", AIR_HEADER + struck(1, "", "", ""))
    assert "columns.air_pressure.unit: 'degC' is not one of hPa, mbar, Pa, inHg, mmHg" in reason
    assert EXPORTED_BY_NAME["air_pressure"].unit == "hPa"
