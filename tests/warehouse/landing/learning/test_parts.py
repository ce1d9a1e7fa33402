"""The parts by which samples are read: club names, marks of numbers, forms of times, sides said in headers."""

from __future__ import annotations

import datetime as dt

import pytest

from warehouse.landing.learning import clubs, times, words
from warehouse.landing.learning.cells import number_column, number_marks, value_of
from warehouse.landing.learning.columns import side_pair

NOW = dt.datetime(2025, 6, 1, 12, 0)


@pytest.mark.parametrize(
    ("name", "club"),
    [("7i", "iron-7"), ("Eisen 7", "iron-7"), ("fer sept", "iron-7"), ("1W", "driver"), ("Holz 1", "driver"),
     ("Sandwedge", "wedge-sand"), ("56°", "wedge-sand"), ("4 Rescue", "hybrid-4"), ("Żelazo 9", "iron-9"),
     ("Wood 4", None), ("iron 10", None), ("Putter", None), ("Broomstick", None), ("7", None)],
)  # fmt: skip
def test_club_names_are_read_in_several_languages_and_none_is_made_up(name: str, club: str | None) -> None:
    assert clubs.club_of(name).club == club


def test_a_letter_of_two_meanings_is_settled_by_the_other_clubs_or_not_at_all() -> None:
    assert clubs.letter_kinds(["H3", "W5"])["h"] == ("hybrid",)
    assert clubs.letter_kinds(["F9", "F3"])["f"] == ("iron",)
    assert clubs.letter_kinds(["H3", "H5"])["h"] == ("hybrid", "wood")
    assert not clubs.club_of("H3", clubs.letter_kinds(["H3", "H5"])).sure


@pytest.mark.parametrize(
    ("cells", "decimal", "thousands", "sure"),
    [(["12,5", "2.850"], ",", ".", True), (["12.5", "2,850"], ".", ",", True), (["1 250,5"], ",", " ", True),
     (["1'250.5"], ".", "'", True), (["2,850", "3,120"], ".", ",", False), (["1.234.567,8"], ",", ".", True)],
)  # fmt: skip
def test_marks_are_told_and_three_digits_after_a_comma_are_not(cells, decimal, thousands, sure) -> None:
    marks = number_marks(cells)
    assert (marks.decimal, marks.thousands, marks.sure) == (decimal, thousands, sure)


def test_units_sides_and_feet_inside_cells_are_taken_apart() -> None:
    marks = number_marks(["142.3 mph"])
    assert number_column(["142.3 mph", "99.1 mph"], marks).unit_words == {"mph": 2}
    sided = number_column(["3.2 R", "L1.1", "0.0"], marks)
    assert side_pair(sided) == ("right", {"R": "right", "L": "left"})
    feet = number_column(["12' 3\"", "-3' 6\""], marks)
    assert (feet.values.tolist(), feet.feet_and_inches) == ([12.25, -3.5], True)
    assert number_column(["-999", "12.5", "13.1"], marks).sentinels == (-999.0,)
    assert value_of("1.250,5", number_marks(["1.250,5"])) == 1250.5


def test_a_date_that_fits_two_forms_stays_two_forms_until_something_decides() -> None:
    found = times.forms(["03/04/2025 10:00:00", "03/04/2025 10:01:00"])
    assert len(times.likelier(found, NOW)[0]) == 2
    assert [form.format for form in times.likelier(found, dt.datetime(2025, 3, 20))[0]] == ["%m/%d/%Y %H:%M:%S"]
    named = times.likelier(found, NOW, [dt.date(2025, 4, 3)])[0]
    assert [form.format for form in named] == ["%d/%m/%Y %H:%M:%S"]
    assert [form.format for form in times.forms(["14/03/2025 2:05:00 p.m."])] == ["%d/%m/%Y %I:%M:%S %p"]
    assert times.forms(["1741944727000"])[0].format == "epoch_ms"


@pytest.mark.parametrize(
    ("header", "side"),
    [("Écart (m) (+ = gauche)", "left"), ("Side, R+", "right"), ("links positiv", "left"), ("Side (- = left)", "right"),
     ("Lateral", None), ("Toe (mm)", None)],
)  # fmt: skip
def test_a_side_said_in_a_header_is_heard(header: str, side: str | None) -> None:
    assert words.side_in_header(header, ["right", "left"]) == side


@pytest.mark.parametrize(
    ("header", "meaning"),
    [("Ballgeschwindigkeit", "ball_speed"), ("Kopsnelheid", "club_speed"), ("Face to Path", "face to path"),
     ("Angolo di attacco", "attack_angle"), ("Total distance", "total distance"), ("Spin Loft", "spin loft"),
     ("Side Spin", "side spin"), ("Odchylenie boczne", "lateral"), ("Úhel odletu", "launch_angle"),
     ("Apex (ft)", "apex")],
)  # fmt: skip
def test_headers_mean_what_they_say_and_likes_are_not_confused(header: str, meaning: str) -> None:
    found = words.meanings(header)
    assert max(found, key=lambda name: found[name]) == meaning
