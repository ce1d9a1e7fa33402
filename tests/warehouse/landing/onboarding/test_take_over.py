"""An academy's own workbook, of a shape of its own, taken over the first time and every month."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import openpyxl
import pytest

from warehouse.landing.onboarding import make_home
from warehouse.landing.onboarding.own_rows import _minutes

ANSWERS = {
    "name": "Hauptplatz", "timezone": "Europe/Vienna", "altitude_m": "320", "club_group": "any",
    "export_profile": "drossel", "ball": "range", "setting": "indoor",
}  # fmt: skip
MEMBERS = [
    ["Mitgliederliste"], ["Stand 1.3."], [], ["Nr", "Name", "Hand", "Hcp", "Eintritt", "Geburtsdatum", "Einwilligung"],
    ["101", "Vantaska, Oriel", "R", "12,4", "15.02.2024", "03.04.1988", "ja"],
    ["102", "Doskander, Mirre", "L", "+1,2", "01.03.2024", "22.11.2001", "nein"],
    ["103", "Abrenzik, Tolve", "R", "", "28.03.2024", "09.09.1979", "ja"],
]  # fmt: skip
LESSONS = [
    ["Stundenplan"], [], ["Datum", "Beginn", "Minuten", "Schüler", "Trainer", "Box", "Bemerkung"],
    ["03.03.2026", "10:30", "60", "Vantaska, Oriel", "Kela Brunwick", "1", "Handtuch hinter dem Ball geübt. Gut."],
    ["23.03.2026", "12:00", "45", "Mirre Doskander", "Kela Brunwick", "2", ""],
    [dt.datetime(2026, 3, 17), "09:00", "1:30", "Abrenzik, Tolve", "", "Box 1", "Aufwärmen; dann Stab aussen."],
]  # fmt: skip
DRILLS = [["Kürzel", "Übung"], ["D1", "Handtuch hinter dem Ball"], ["D2", "Stab aussen"]]


def book(path: Path, lessons: list[list[object]] = LESSONS, members: list[list[object]] = MEMBERS) -> Path:
    """Write the workbook."""
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in {
        "Mitglieder": members,
        "Stunden": lessons,
        "Übungen": DRILLS,
        "Kasse": [["Umsatz", "Rest"]],
    }.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    made.save(path)
    return path


def take(home: Path, source: Path, **more) -> tuple[int, list[str]]:
    """Run the command's work."""
    return make_home.start(home, "# settings\n", source, None, **more)


def answer(home: Path) -> None:
    """Answer every question of the mapping."""
    path = home / "workbook.toml"
    text = path.read_text(encoding="utf-8")
    for question, said in ANSWERS.items():
        text = text.replace(f'{question} = {{ value = "?" }}', f'{question} = {{ value = "{said}" }}')
    path.write_text(text, encoding="utf-8")


def table(home: Path, name: str) -> list[str]:
    """Return a table's rows without the header."""
    return (home / "landing" / "academy" / f"{name}.csv").read_text(encoding="utf-8").splitlines()[1:]


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A home that has taken its workbook over once."""
    take(tmp_path / "home", book(tmp_path / "book.xlsx"))
    answer(tmp_path / "home")
    assert take(tmp_path / "home", tmp_path / "book.xlsx")[0] == 0
    return tmp_path / "home"


def test_what_the_workbook_does_not_say_is_asked_and_no_table_is_written(tmp_path: Path) -> None:
    code, said = take(tmp_path / "home", book(tmp_path / "book.xlsx"))
    assert code == 3
    assert sum(line.startswith("question: ") for line in said) == 7
    assert not (tmp_path / "home" / "landing").exists()


def test_title_rows_names_dates_decimals_and_minutes_become_the_academys_tables(home: Path) -> None:
    assert table(home, "students") == [
        "101,Oriel Vantaska,right,12.4,2024-02-15,,1988-04-03,yes,",
        "102,Mirre Doskander,left,-1.2,2024-03-01,,2001-11-22,no,",
        "103,Tolve Abrenzik,right,,2024-03-28,,1979-09-09,yes,",
    ]
    assert table(home, "coaches") == ["C001,Kela Brunwick"]
    assert table(home, "lessons") == [
        "L-2026-03-03-1030-1-101,101,C001,1,2026-03-03T10:30:00,2026-03-03T11:30:00",
        "L-2026-03-23-1200-2-102,102,C001,2,2026-03-23T12:00:00,2026-03-23T12:45:00",
        "L-2026-03-17-0900-1-103,103,,1,2026-03-17T09:00:00,2026-03-17T10:30:00",
    ]
    assert table(home, "drill_log") == ["L-2026-03-03-1030-1-101,D1,,,", "L-2026-03-17-0900-1-103,D2,,,"]


def test_drills_in_notes_are_shown_with_the_sentence_they_were_found_in(home: Path) -> None:
    _, said = take(home, home.parent / "book.xlsx", look=True)
    assert '  drill found: L-2026-03-17-0900-1-103: D2 in "dann Stab aussen."' in said


def test_the_next_month_adds_its_lessons_and_keeps_what_was_corrected_here(home: Path) -> None:
    path = home / "landing" / "academy" / "students.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("12.4", "11.8"), encoding="utf-8")
    more = [*LESSONS, ["01.04.2026", "10:30", "60", "Vantaska, Oriel", "Kela Brunwick", "1", ""]]
    code, said = take(home, book(home.parent / "april.xlsx", more))
    assert (code, len(table(home, "lessons"))) == (0, 4)
    assert table(home, "students")[0].startswith("101,Oriel Vantaska,right,11.8,")
    assert any("handicap: '12.4' in the workbook, '11.8' here is kept" in line for line in said)
    take(home, home.parent / "april.xlsx", take=["students.handicap"])
    assert table(home, "students")[0].startswith("101,Oriel Vantaska,right,12.4,")
    assert take(home, home.parent / "april.xlsx")[1][-1] == "nothing is new: no table was changed"


def test_while_a_row_is_at_fault_nothing_is_written_and_the_row_and_nearest_name_are_told(home: Path) -> None:
    before = table(home, "lessons")
    more = [*LESSONS, ["02.04.2026", "10:30", "60", "Vantasca, Oriel", "Kela Brunwick", "1", ""]]
    code, said = take(home, book(home.parent / "may.xlsx", more))
    assert (code, table(home, "lessons")) == (2, before)
    assert (
        "to correct: sheet 'Stunden' row 7: 'Vantasca, Oriel' is nobody in students; nearest is 'Oriel Vantaska'"
        in said
    )


def test_ids_that_are_made_stay_the_same_when_the_rows_change_places(tmp_path: Path) -> None:
    bare = [row[1:] if len(row) > 2 else row for row in MEMBERS]
    take(tmp_path / "home", book(tmp_path / "book.xlsx", members=bare))
    answer(tmp_path / "home")
    assert take(tmp_path / "home", tmp_path / "book.xlsx")[0] == 0
    new = ["Quorren, Samile", "R", "", "02.04.2026", "05.05.1990", "ja"]
    take(tmp_path / "home", book(tmp_path / "next.xlsx", members=[*bare[:4], new, *reversed(bare[4:])]))
    assert [row.split(",")[:2] for row in table(tmp_path / "home", "students")] == [
        ["S001", "Oriel Vantaska"], ["S002", "Mirre Doskander"], ["S003", "Tolve Abrenzik"], ["S004", "Samile Quorren"]
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("60", 60), ("45 min", 45), ("1:30", 90), ("1 h 15", 75), ("1,5 h", 90), ("2 Std", 120), ("lang", None)],
)
def test_lengths_of_lessons_are_read_as_people_write_them(text: str, minutes: float | None) -> None:
    assert _minutes(text) == minutes
