"""Damaged files: the last good version is read and said on every page, a broken notebook is told in words."""

from __future__ import annotations

import gc
import shutil
from collections.abc import Iterator
from pathlib import Path

import browsing
import duckdb
import pytest
import streamlit as st
from made_notebook import opened, own_home, tap, text_of
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.shell import home_view, query_cache, server
from dashboard.text import faults, notebook, trials, words

QUESTIONS = {**words.QUESTIONS, **notebook.QUESTIONS, **trials.QUESTIONS}


@pytest.fixture(autouse=True)
def nothing_passed_over() -> Iterator[None]:
    """Let every test begin and end with no version passed over."""
    home_view._broken.clear()
    yield
    home_view._broken.clear()


@pytest.fixture
def here(home: Path, tmp_path: Path) -> Path:
    """Return a home with two published versions, of which the newer is current."""
    place = own_home(home, tmp_path)
    current = (place / "published" / "current.duckdb").resolve()
    shutil.copy(current, current.with_name("2031-04-12_20310412T050000000000.duckdb"))
    newer = current.rename(current.with_name("2031-04-13_20310413T050000000000.duckdb"))
    link = place / "published" / "current.duckdb"
    link.unlink()
    link.symlink_to(newer.name)
    return place


def current(here: Path) -> Path:
    """Return the version published last."""
    return (here / "published" / "current.duckdb").resolve()


def cut_short(path: Path) -> None:
    """Leave the first half of a file."""
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])


def scribbled_over(path: Path) -> None:
    """Write over all blocks but the first ones, so that the file still opens."""
    data = bytearray(path.read_bytes())
    data[200_000:-1] = b"\xff" * (len(data) - 200_001)
    path.write_bytes(bytes(data))


def emptied(path: Path) -> None:
    """Leave nothing of a file."""
    path.write_bytes(b"")


@pytest.mark.parametrize("damage", [cut_short, scribbled_over, emptied, Path.unlink])
@pytest.mark.parametrize("page", ["students", "bays", "help"])
def test_the_last_good_version_is_read_and_every_page_says_so(
    damage, page: str, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    damage(current(here))
    app = opened(here, page, monkeypatch)
    assert not app.exception
    assert app.title[0].value == QUESTIONS[page]
    assert faults.DAMAGED in text_of(app)
    assert "Through the night of" in text_of(app)


def test_where_no_version_is_good_that_is_said(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for version in (here / "published").glob("2*.duckdb"):
        emptied(version)
    app = opened(here, "students", monkeypatch)
    assert not app.exception
    assert faults.ALL_DAMAGED.format(home=here) in text_of(app)


def test_where_all_is_well_nothing_is_said(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert faults.DAMAGED not in text_of(opened(here, "help", monkeypatch))


@pytest.mark.parametrize("page", ["notebook", "sql", "trials"])
def test_a_damaged_notebook_is_told_in_words(page: str, here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (here / "notebook.sqlite").write_bytes(b"no database at all" * 99)
    app = opened(here, page, monkeypatch, bay="B06", student="S005")
    if page == "sql":
        tap(app, words.SQL_RUN)
    assert not app.exception
    said = text_of(app)
    assert "The notebook cannot be read" in said
    assert "DatabaseError" not in said and "sqlite" not in said


def test_a_page_that_breaks_in_a_browser_shows_words_and_a_number(here: Path, browser: webdriver.Chrome) -> None:
    with duckdb.connect(str(current(here))) as file:
        file.execute("delete from mart.metric")
    with browsing.serving(here) as address:
        browser.get(f"{address}/week")
        browsing.says(browser, "This page could not be shown.")
        assert browser.find_elements(By.CSS_SELECTOR, browsing.BOX) == []
        assert "Traceback" not in browser.page_source and ".py" not in browsing.text(browser)


def test_a_connection_in_use_outlives_later_publications_and_a_cleared_cache(here: Path) -> None:
    kept = [shutil.copy(current(here), here / f"{number}.duckdb") for number in range(4)]
    cursor = query_cache.connection(str(kept[0])).cursor()
    for path in kept[1:]:
        query_cache.connection(str(path))
    gc.collect()
    assert cursor.execute("select count(*) from mart.student").fetchone() == (24,)
    st.cache_resource.clear()
    gc.collect()
    assert cursor.execute("select count(*) from mart.student").fetchone() == (24,)


def test_a_page_that_breaks_gives_a_number_and_nothing_of_the_program(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    said: list[str] = []
    monkeypatch.setattr(st, "error", said.append)
    assert server.on_fault(duckdb.CatalogException("table secret at /home/somebody")) is True
    assert "secret" not in said[0] and "/home" not in said[0]
    number = said[0].split("the number ")[1].split(":")[0]
    assert number in caplog.text
