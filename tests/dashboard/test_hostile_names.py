"""Names of students, drills, sites and cohorts that are HTML, markdown or formulas: every page shows them as text.

Tried in a real browser, which would run what a page lets through.
"""

from __future__ import annotations

import csv
import io
import shutil
from html.parser import HTMLParser
from pathlib import Path

import duckdb
import polars as pl
import pytest
from browsing import open_page
from selenium import webdriver
from selenium.webdriver.common.by import By
from test_take_home import reading, sheet_of

from dashboard import review, take_home_sheet, words
from dashboard.home import read_home
from warehouse.query_guard import run, to_csv_safe

HURT = "document.title='hurt'"
NAMES = (
    f"<script>{HURT}</script>", f'<img src=x onerror="{HURT}">', f"</svg></td></p><svg onload={HURT}>",
    "![seen](http://127.0.0.1:9/seen.png)", f"[go](javascript:{HURT})", "=cmd|'/C calc'!A0", "**bold** $x^2$ :red[x]",
    f"&lt;script&gt;{HURT}", "{{7*7}}${7*7}", f'" onmouseover="{HURT}',
)  # fmt: skip
SHOWN = {
    "mart.student": ("name",), "mart.drill": ("name", "setup", "caution"), "mart.bay": ("site_name",),
    "mart.goal": ("words",), "ops.export_file": ("reason",), "ops.rejected_row": ("value", "detail"),
    "ops.publication": ("warnings",),
}  # fmt: skip


@pytest.fixture(scope="module")
def home(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a copy of the made home in which whatever has a name has a hostile one."""
    copied = Path(shutil.copytree(home, tmp_path_factory.mktemp("hostile") / "home", symlinks=True))
    with duckdb.connect((copied / "published" / "current.duckdb").resolve()) as made:
        for table, columns in SHOWN.items():
            for column in columns:
                made.execute(
                    f"update {table} set {column} = $1[1 + (rowid % len($1))] where {column} is not null", [list(NAMES)]
                )
        tables = made.execute("select schema_name || '.' || table_name from duckdb_columns() "
                              "where column_name = 'cohort' and not internal").fetchall()  # fmt: skip
        for (table,) in tables:
            made.execute(f"update {table} set cohort = cohort || $1 where cohort <> 'all students'", [NAMES[1]])
    return copied


@pytest.mark.parametrize("page", words.PAGES)
def test_a_page_shows_hostile_names_as_text(page: str, browser: webdriver.Chrome, address: str) -> None:
    open_page(browser, address, page, words.QUESTIONS[page])
    assert browser.title != "hurt"
    hurting = "img[src='x'], img[src*='seen'], a[href^='javascript'], svg[onload]"
    assert [one.get_attribute("outerHTML") for one in browser.find_elements(By.CSS_SELECTOR, hurting)] == []
    assert browser.find_elements(By.XPATH, "//script[contains(., 'hurt')]") == []
    assert browser.find_elements(By.CSS_SELECTOR, "[onmouseover], [onerror]") == []
    assert browser.find_elements(By.CSS_SELECTOR, "[data-testid='stException']") == []


class Tags(HTMLParser):
    """Collects the tags of a page and their attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list) -> None:
        """Keep a tag."""
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        """Keep text."""
        self.text += data


def harmless(text: str) -> Tags:
    """Assert that a page runs nothing and asks for nothing from elsewhere; return what it holds."""
    read = Tags(text)
    assert {tag for tag, _ in read.tags} & {"script", "img", "iframe", "object", "link"} == set()
    assert [(tag, name) for tag, held in read.tags for name in held if name.startswith("on")] == []
    assert [held["href"] for _, held in read.tags if not held.get("href", "#").startswith("#")] == []
    return read


def test_the_printed_review_shows_hostile_names_as_text(home: Path) -> None:
    read = harmless(review.render(read_home(home)))
    assert "<img src=x" in read.text, "a cohort's name stands in it"


def test_every_students_page_to_take_home_shows_hostile_names_as_text(home: Path) -> None:
    shown = set()
    asked = reading(home)
    for student_id in asked.ask("students").filter(pl.col("name").is_not_null())["student_id"].to_list()[: len(NAMES)]:
        read = harmless(take_home_sheet.render(sheet_of(asked, student_id)))
        shown |= {name for name in NAMES if name in read.text.replace("\u2060", "")}
    assert len(shown) >= len(NAMES) - 1


def test_a_downloaded_table_of_hostile_names_runs_in_no_spreadsheet(home: Path) -> None:
    asked = "select student_id, name from mart.student where name is not null"
    found = run(home / "published" / "current.duckdb", asked)
    cells = [row[1] for row in csv.reader(io.StringIO(to_csv_safe(found.frame).decode(), newline=""))][1:]
    assert "'=cmd|'/C calc'!A0" in cells
    assert not any(cell.startswith(("=", "+", "-", "@")) for cell in cells)
