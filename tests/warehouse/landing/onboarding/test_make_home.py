"""An empty home for a real academy, and its own lists taken over."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import duckdb
import openpyxl
import pytest

from warehouse.landing.onboarding import import_workbook, make_home
from warehouse.landing.onboarding.duplicate_people import likely_duplicates, normal_name
from warehouse.landing.profile import profile
from warehouse.landing.reference import load
from warehouse.schema.raw import REFERENCE_TABLES


def test_an_empty_home_is_a_valid_one(tmp_path: Path) -> None:
    said = make_home.make_home(tmp_path / "home", "# settings\n")
    landing = tmp_path / "home" / "landing"
    with duckdb.connect() as con:
        con.execute("create schema raw")
        summary = load.load(con, landing)
    assert summary.warnings == []
    assert set(summary.rows.values()) == {0}
    assert profile.read(landing / "profiles" / "sample.toml").columns["carry"].unit == "m"
    assert len(said) == len(REFERENCE_TABLES) + 2
    assert (tmp_path / "home" / "academy.toml").read_text() == "# settings\n"


def test_what_is_there_is_kept(tmp_path: Path) -> None:
    (tmp_path / "academy.toml").write_text("mine")
    assert "kept academy.toml as it is" in make_home.make_home(tmp_path, "new")
    assert (tmp_path / "academy.toml").read_text() == "mine"


MAPPING = """
[students]
sheet = "People"
[students.columns]
student_id = "No."
name = "Full name"
handed = { from = "Hand", map = { R = "right", L = "left" } }
joined_on = "Since"
born_on = "Born"
consent = { value = "no" }
"""


def people_book(path: Path) -> None:
    book = openpyxl.Workbook()
    book.active.title = "People"
    born = dt.datetime(2001, 2, 3)
    for row in (
        ["No.", "Full name", "Hand", "Since", "Born"],
        ["001", "Núria Vale", "R", dt.datetime(2023, 1, 2), born],
        [2.0, "VALE, nuria", "L", dt.datetime(2023, 1, 2), born],
        ["003", "Núria Vale", "R", dt.datetime(2023, 1, 2), dt.datetime(1999, 1, 1)],
    ):
        book.active.append(row)
    book.save(path)


def test_a_workbook_is_taken_over_by_its_mapping_and_twins_are_named_not_merged(tmp_path: Path) -> None:
    people_book(tmp_path / "club.xlsx")
    (tmp_path / "map.toml").write_text(MAPPING)
    said = make_home.make_home(tmp_path / "home", "", source=tmp_path / "club.xlsx", mapping=tmp_path / "map.toml")
    students = (tmp_path / "home" / "landing" / "academy" / "students.csv").read_text(encoding="utf-8").splitlines()
    assert students[1] == "001,Núria Vale,right,,2023-01-02,,2001-02-03,no,"
    assert len(students) == 4
    assert [line for line in said if line.startswith("perhaps")] == [
        "perhaps one person twice: 001 Núria Vale and 2 VALE, nuria, born 2001-02-03 and 2001-02-03; decide by hand, "
        "nothing was merged"
    ]
    with pytest.raises(ValueError, match="holds rows already"):
        make_home.make_home(tmp_path / "home", "", source=tmp_path / "club.xlsx", mapping=tmp_path / "map.toml")


def test_csv_files_named_like_the_tables_need_no_mapping(tmp_path: Path) -> None:
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "coaches.csv").write_text("coach_id;name\n01;A Coach\n")
    make_home.make_home(tmp_path / "home", "", source=tmp_path / "own")
    written = (tmp_path / "home" / "landing" / "academy" / "coaches.csv").read_text()
    assert written == "coach_id,name\n01,A Coach\n"


@pytest.mark.parametrize(
    ("mapping", "said"),
    [
        ("[pupils]\n", "pupils is no table"),
        ('[students]\n[students.columns]\nsize = "No."\n', "students.columns.size is no column"),
        ('[students]\nsheet = "Gone"\n[students.columns]\n', "no sheet or file 'Gone'"),
        ('[students]\nsheet = "People"\n[students.columns]\nname = "Gone"\n', "no column 'Gone' in 'People'"),
        ('[students]\nsheet = "People"\n[students.columns]\nname = { map = {} }\n', "needs either from or value"),
    ],
)
def test_a_mapping_at_fault_names_its_key(tmp_path: Path, mapping: str, said: str) -> None:
    people_book(tmp_path / "club.xlsx")
    (tmp_path / "map.toml").write_text(mapping)
    with pytest.raises(ValueError, match=said):
        import_workbook.take(tmp_path / "club.xlsx", tmp_path / "map.toml")


def test_names_are_compared_without_accents_case_and_order() -> None:
    assert normal_name("Vale, NÚRIA") == normal_name("nuria  vale") != normal_name("Nuria Dale")
    rows = [{"name": "A B", "born_on": ""}, {"name": "b a", "born_on": "2001-01-01"}, {"name": "A C"}]
    assert likely_duplicates(rows) == [(rows[0], rows[1])]
