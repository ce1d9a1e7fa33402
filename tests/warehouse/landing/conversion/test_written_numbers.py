"""Numbers as people and devices write them: what is one, what it comes to, and what is none."""

from __future__ import annotations

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from warehouse.landing.conversion.written_numbers import number
from warehouse.landing.profile.column_source import ColumnSource
from warehouse.landing.profile.file_shape import FileShape

CON = duckdb.connect()
MPH, FOOT = 0.44704, 0.3048


def read(text: str, name: str = "carry", decimal: str = ".", thousands: str = "", **source: object) -> float | None:
    """Return the number that a cell comes to, in its column's unit."""
    entry = ColumnSource.model_validate({"from": "x", "unit": "m", **source})
    shape = FileShape(delimiter=";", decimal=decimal, thousands=thousands)
    return CON.execute(f"select {number('said', name, entry, shape)} from (select $1 as said)", [text]).fetchone()[0]


@pytest.mark.parametrize(
    ("text", "marks", "value"),
    [
        ("142.3", {}, 142.3),
        ("-3", {}, -3),
        ("+3.", {}, 3),
        (".5", {}, 0.5),
        ("1e3", {}, 1000),
        ("1.5E-2", {}, 0.015),
        ("\u22123.5", {}, -3.5),
        ("1,234.5", {"thousands": ","}, 1234.5),
        ("1.234,5", {"decimal": ",", "thousands": "."}, 1234.5),
        ("1 234,5", {"decimal": ",", "thousands": " "}, 1234.5),
        ("1\u202f234", {"thousands": " "}, 1234),
        ("12'345", {"thousands": "'"}, 12345),
        ("12\u2019345", {"thousands": "'"}, 12345),
        ("1234", {"thousands": ","}, 1234),
        ("1,23", {"thousands": ","}, None),
        ("1,2345", {"thousands": ","}, None),
        ("12,34,567", {"thousands": ","}, None),
        (",123", {"thousands": ","}, None),
        ("1,234", {}, None),
        ("12.5", {"decimal": ","}, None),
        ("12.5 m", {}, None),
        ("nan", {}, None),
        ("inf", {}, None),
        ("1_000", {}, None),
        ("0x10", {}, None),
        ("", {}, None),
        ("--3", {}, None),
        ("1 2", {}, None),
        ("3-", {}, None),
    ],
)
def test_a_number_is_read_by_the_profiles_marks_and_nothing_else_is_one(
    text: str, marks: dict, value: float | None
) -> None:
    assert read(text, **marks) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("142.3 mph", 142.3),
        ("142.3mph", 142.3),
        ("142.3 MPH", 142.3),
        ("142.3", 142.3),
        ("-1 mph", -1.0),
        ("63.6 m/s", 63.6 / MPH),
        ("229 km/h", 229 / 3.6 / MPH),
        ("229 kph", 229 / 3.6 / MPH),
        ("10 ft/s", 10 * FOOT / MPH),
        ("142.3 Meilen", 142.3),
        ("142.3 knots", None),
        ("142.3 m", None),
        ("mph", None),
        ("142.3 mph fast", None),
    ],
)
def test_a_unit_in_the_cell_counts_before_the_columns(text: str, value: float | None) -> None:
    said = read(text, "ball_speed", unit="mph", written="with unit", unit_words={"Meilen": "mph"})
    assert said == (None if value is None else pytest.approx(value, rel=1e-14))


def test_a_temperature_in_another_unit_is_shifted_too() -> None:
    assert read("68 \u00b0F", "air_temperature", unit="degC", written="with unit") == pytest.approx(20)
    assert read("20 C", "air_temperature", unit="degF", written="with unit") == pytest.approx(68)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("3.2 R", 3.2),
        ("3.2R", 3.2),
        ("R 3.2", 3.2),
        ("r3.2", 3.2),
        ("1.1 L", -1.1),
        ("L1.1", -1.1),
        ("0", 0),
        ("0.0 L", 0),
        ("2.5", 2.5),
        ("-2.5", -2.5),
        ("-2.5 L", None),
        ("R 2 L", None),
        ("2.5 X", None),
        ("R", None),
        ("2.5 RL", None),
    ],
)
def test_a_side_word_gives_the_sign(text: str, value: float | None) -> None:
    assert read(text, "lateral", sides={"R": "right", "L": "left"}) == value
    # In a column whose plus is left the same words mean the same sides: the number is then counted to the left.
    word = any(letter.isalpha() for letter in text)
    turned = read(text, "lateral", sides={"R": "right", "L": "left"}, positive="left")
    assert turned == (None if value is None else -value if word else value)


@pytest.mark.parametrize(
    ("text", "value"), [("4.1 up", 4.1), ("4.1 DOWN", -4.1), ("down 4.1", -4.1), ("4.1 updown", None)]
)
def test_up_and_down_are_sides_too(text: str, value: float | None) -> None:
    assert read(text, "attack_angle", unit="deg", sides={"up": "up", "down": "down"}) == value


def test_a_side_and_a_unit_may_stand_together() -> None:
    assert read("3.5 yds R", "lateral", unit="yd", written="with unit", sides={"R": "right", "L": "left"}) == 3.5
    assert read("L 3 m", "lateral", unit="cm", written="with unit", sides={"R": "right", "L": "left"}) == -300


@pytest.mark.parametrize(
    ("text", "feet"),
    [
        ("12' 3\"", 12.25),
        ("12'3\"", 12.25),
        ("12\u2032 3\u2033", 12.25),
        ("12 ft 3 in", 12.25),
        ("12ft. 6in.", 12.5),
        ("12'", 12),
        ("12 feet", 12),
        ('9"', 0.75),
        ("9 in", 0.75),
        ("12 3", 12.25),
        ("12-3", None),
        ("-12' 6\"", -12.5),
        ("12.5", 12.5),
        ("12' 3''", 12.25),
        ("12' 6\" L", -12.5),
        ("R 12'", 12),
        ("12 yd", None),
        ("3\" 12'", None),
    ],
)
def test_feet_and_inches_come_to_one_length(text: str, feet: float | None) -> None:
    told = read(text, "lateral", unit="ft", written="feet and inches", sides={"R": "right", "L": "left"})
    assert told == (None if feet is None else pytest.approx(feet, abs=1e-12))


@settings(max_examples=60, deadline=None)
@given(
    st.decimals(min_value=-99999, max_value=99999, places=2, allow_nan=False),
    st.sampled_from([(".", ","), (",", "."), (".", "'"), (",", " "), (".", "")]),
)
def test_any_number_comes_back_however_its_marks_are(value: object, marks: tuple[str, str]) -> None:
    decimal, thousands = marks
    text = f"{value:,.2f}".replace(",", "\x00").replace(".", decimal).replace("\x00", thousands)
    assert read(text, decimal=decimal, thousands=thousands) == float(value)  # type: ignore[arg-type]
