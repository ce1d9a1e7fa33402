"""Names of students, drills, sites and cohorts that are HTML, markdown or formulas: every page shows them as text.

Tried in a real browser, which would run what a page lets through.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import made_hostile
import polars as pl
import pytest
from browsing import open_page
from made_hostile import NAMES, as_typed, harmless, shown_as_text
from selenium import webdriver
from test_take_home import reading, sheet_of

from dashboard.handouts import take_home, week_review
from dashboard.shell.home_view import read_home
from dashboard.text import words
from warehouse.query.guard import run, to_csv_safe


@pytest.fixture(scope="module")
def home(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a copy of the made home in which whatever has a name has a hostile one."""
    return made_hostile.home(home, tmp_path_factory.mktemp("hostile"))


@pytest.mark.parametrize("page", words.PAGES)
def test_a_page_shows_hostile_names_as_text(page: str, browser: webdriver.Chrome, address: str) -> None:
    open_page(browser, address, {"students": "students?student=S005"}.get(page, page), words.QUESTIONS[page])
    shown_as_text(browser)


def test_the_printed_review_shows_hostile_names_as_text(home: Path) -> None:
    read = harmless(week_review.render(read_home(home)))
    assert "<img src=x" in as_typed(read.text), "a cohort's name stands in it"


def test_every_students_page_to_take_home_shows_hostile_names_as_text(home: Path) -> None:
    asked = reading(home)
    named = asked.ask("students").filter(pl.col("name").is_not_null())
    named = named.unique("name", maintain_order=True)
    for student_id, name in named.select("student_id", "name").iter_rows():
        read = harmless(take_home.render(sheet_of(asked, student_id)))
        assert as_typed(name) in as_typed(read.text)
    typed = {as_typed(name) for name in NAMES}
    assert len(typed & {as_typed(name) for name in named["name"]}) >= len(NAMES) - 1


def test_a_downloaded_table_of_hostile_names_runs_in_no_spreadsheet(home: Path) -> None:
    asked = "select student_id, name from mart.student where name is not null"
    found = run(home / "published" / "current.duckdb", asked)
    cells = [row[1] for row in csv.reader(io.StringIO(to_csv_safe(found.frame).decode(), newline=""))][1:]
    assert "'=cmd|'/C calc'!A0" in cells
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in cells)
