"""Names found in texts however they are written, and what of a refused cell, a path or a message may be shown."""

from __future__ import annotations

from pathlib import Path

import pytest

from warehouse.home import Home
from warehouse.privacy import file_modes, values
from warehouse.privacy.names import KnownNames
from warehouse.privacy.people import people_of

NAMES = KnownNames(
    ("Mia Lindqvist", "Jörg Müller", "Seán O'Neil", "Anna Maria van der Berg", "Zdenka", "Łukasz Żak", "李小龙", "S12",
     "Driver", "Student 3")
)  # fmt: skip
KEY = b"k"


@pytest.mark.parametrize(
    "text",
    [
        "Mia Lindqvist", "LINDQVIST, MIA", "mia_lindqvist.csv", "Lindqvist-Mia2", "MiaLindqvist", "lindqvistmia",
        "Ｍｉａ　Ｌｉｎｄｑｖｉｓｔ", "Mia\u200b Lind\u00adqvist", "Mia%20Lindqvist", "Joerg Mueller", "MUELLER JÖRG",
        "JÃ¶rg MÃ¼ller", "J\\u00f6rg M\\u00fcller", "J&ouml;rg M&uuml;ller", "Sean ONeil", "O’Neil Seán",
        "van der Berg, Anna", "Anna Berg", "Anna Berg's gate", "zdenkas gate", "Zak, Lukasz", "见李小龙了",
    ],
)  # fmt: skip
def test_a_name_is_found_in_any_case_accents_width_order_or_escape(text: str) -> None:
    assert NAMES.holds(text)
    assert not NAMES.holds(NAMES.mask(text))


@pytest.mark.parametrize("text", ["Lindqvist", "driver", "S12", "Student", "Mia at Lindqvist", "Annabergen castle", ""])
def test_what_is_no_whole_name_or_a_word_of_the_program_is_left(text: str) -> None:
    assert not NAMES.holds(text)
    assert NAMES.mask(text) == text


@pytest.mark.parametrize(
    ("value", "column", "shown"),
    [
        ("-4000", "carry", True), ("12,5 m", "carry", True), ("abc", "carry", True), ("no data", "carry", True),
        ("2026-01-05 25:00:00", "struck_at", True), ("05.Jan.2026 9:00", "struck_at", True), ("Putter", "club", True),
        ("Texas Wedge", "club", True), ("Eisen 12", "club", True), ("banana", "club", True),
        ("Lindqvist", "carry", False), ("zdenka", "club", False), ("Petra Novakova", "carry", False),
        ("petra novakova", "carry", False), ("PETRA", "carry", False), ("petra@club.example", "carry", False),
        ("2026-01-05 10:00:00;Petra Novakova;7;55", None, False), ("J\ufffdrg", "carry", False),
    ],
)  # fmt: skip
def test_a_refused_cell_is_shown_unless_it_could_name_somebody(value: str, column: str | None, shown: bool) -> None:
    assert values.shown_value(value, column, NAMES) == (value if shown else values.WITHHELD)


def test_a_path_is_shown_unless_it_names_somebody_and_two_that_do_stay_apart() -> None:
    for path in ("2026-01-05/B01.csv", "2026-01-05/unknown_bay.csv.gz", "2026-01-05/B1/inbox/komma metrisch/night.csv"):
        assert values.shown_path(path, NAMES, KEY) == path
    hidden = [
        values.shown_path(f"2026-01-05/{name}.csv", NAMES, KEY)
        for name in ("Mia Lindqvist", "lindqvist", "Petra Novakova", "MIA LINDQVIST")
    ]
    assert len(set(hidden)) == 4 and all(path.startswith("2026-01-05/(name ") for path in hidden)
    assert values.shown_path("2026-01-05/Mia Lindqvist.csv", NAMES, b"other") != hidden[0], "no guess without the key"


def test_a_message_about_a_file_named_after_somebody_names_nobody() -> None:
    told = "shots/2026-01-05/Petra Novakova.csv refused: bay 'Petra Novakova' is not in bays.csv: add it there"
    shown = values.shown_message(told, NAMES, KEY)
    assert "Novakova" not in shown and "refused: bay '(name)' is not in bays.csv: add it there" in shown


@pytest.mark.parametrize(
    "written", [
        "student_id,name,consent\nS1,Mia Lindqvist,no\n".encode("utf-8-sig"),
        "student_id;name;consent\nS1;Mia Lindqvist;no\n".encode("utf-16"),
        "Student_ID\tName\tconsent\nS1\tMia Lindqvist\tmaybe\n".encode("cp1252"),
        b"student_id,name,handed,consent\nS1,Lindqvist, Mia,right,no\n",
    ]
)  # fmt: skip
def test_people_are_known_by_tables_that_the_night_itself_would_refuse(tmp_path: Path, written: bytes) -> None:
    academy = tmp_path / "landing" / "academy"
    academy.mkdir(parents=True)
    (academy / "students.csv").write_bytes(written)
    people = people_of(Home(tmp_path))
    assert people.names.holds("mia lindqvist") and people.hidden.holds("mia lindqvist")


def test_who_has_the_name_of_somebody_who_agreed_is_not_hidden_but_is_still_masked_in_words(tmp_path: Path) -> None:
    academy = tmp_path / "landing" / "academy"
    academy.mkdir(parents=True)
    (academy / "students.csv").write_text("student_id,name,consent\n1,Lena Holm,yes\n2,Lena Holm,no\n3,Ravi Roe,no\n")
    people = people_of(Home(tmp_path))
    assert not people.hidden.holds("Lena Holm") and people.hidden.holds("Ravi Roe")
    assert people.names.holds("Lena Holm")


def test_what_a_home_holds_is_its_owners_alone_but_where_a_group_delivers(tmp_path: Path) -> None:
    home = Home(tmp_path / "home")
    landed = ("landing/academy/students.csv", "landing/shots/2026-01-05/B1.csv")
    for place in ("published/a.duckdb", "review.html", *landed):
        path = home.path / place
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("x")
        path.chmod(0o644)
    (home.landing / "shots").chmod(0o2775)
    file_modes.close_to_others(home)
    modes = {path.relative_to(home.path).as_posix(): path.stat().st_mode & 0o7777 for path in home.path.rglob("*")}
    assert modes["published"] == 0o700 and modes["published/a.duckdb"] == 0o600 == modes["review.html"]
    assert modes["landing/academy/students.csv"] == 0o600 and home.path.stat().st_mode & 0o777 == 0o700
    assert modes["landing/shots"] == 0o2775 and modes["landing/shots/2026-01-05/B1.csv"] == 0o644
