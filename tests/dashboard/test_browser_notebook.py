"""The notebook on tablets: three taps, left open, afterwards, marks, two tablets at once, and a server that dies."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import browsing
import duckdb
import polars as pl
import pytest
from browsing import says, tap
from made_notebook import ZONE, all_entries, enter, entries, in_the_morning, own_home
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.notebook.actions import SLIP
from dashboard.notebook.store import now
from dashboard.text import notebook as words
from dashboard.text.drill_sentences import day
from warehouse.notebook import actions

QUESTION = words.QUESTIONS["notebook"]
FORM = f"//details[.//summary[contains(., '{words.SECTIONS['afterwards']}')]]"
ENTER_BUTTON = f"{FORM}//button[normalize-space() = '{words.ENTER}']"
DRILL = "High tee"
BEGINS, ENDS = words.BEGINS.format(drill=DRILL), words.ENDS.format(drill=DRILL)


@pytest.fixture(scope="module")
def own(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a made home to write into; each test has a bay and a student of its own."""
    return in_the_morning(own_home(home, tmp_path_factory.mktemp("notebook")))


@pytest.fixture(scope="module")
def address(own: Path) -> Iterator[str]:
    """Serve that home."""
    with browsing.serving(own) as served:
        yield served


@pytest.fixture(scope="module")
def tablet() -> Iterator[webdriver.Chrome]:
    """Start a tablet's browser."""
    with browsing.headless(820) as driver:
        yield driver


@pytest.fixture(scope="module")
def other_tablet() -> Iterator[webdriver.Chrome]:
    """Start another tablet's browser."""
    with browsing.headless(820) as driver:
        yield driver


def bay_of(number: int) -> str:
    """Return the notebook's address in a bay with the student of that number."""
    return f"notebook?bay=B{number % 6 + 1:02d}&student=S{number:03d}"


def drills(home: Path, number: int) -> pl.DataFrame:
    """Return the drills entered for the student of that number, as the night reads them."""
    return entries(home, "drill_entry").filter(pl.col("student_id") == f"S{number:03d}")


def wait_past_a_slip(tablet: webdriver.Chrome, begun: datetime) -> None:
    """Wait until the end of a drill is no longer taken for a second tap of its beginning."""
    browsing.until(tablet, lambda _: now(ZONE) - begun >= SLIP)


def begin(tablet: webdriver.Chrome, address: str, number: int) -> None:
    """Let the drill begin in the bay of that number."""
    browsing.open_page(tablet, address, bay_of(number), QUESTION)
    tap(tablet, DRILL)
    tap(tablet, BEGINS)
    says(tablet, f"{DRILL} runs since")


def test_a_drill_is_entered_in_three_taps_and_ends_with_one(tablet: webdriver.Chrome, address: str, own: Path) -> None:
    # Whoever was in the bay before stands first among those to tap, at whatever hour this test runs.
    earlier = {"starts_at": now(ZONE) - timedelta(seconds=2), "ends_at": now(ZONE) - timedelta(seconds=1)}
    enter(own, actions.begin_drill, drill_id="R1", student_id="S005", bay_id="B06", **earlier)
    browsing.open_page(tablet, address, "notebook?bay=B06", QUESTION)
    tap(tablet, "Given5 Family5")
    tap(tablet, DRILL)
    tap(tablet, BEGINS)
    says(tablet, f"{DRILL} runs since")
    wait_past_a_slip(tablet, drills(own, 5)["starts_at"][-1])
    tap(tablet, ENDS)
    says(tablet, "no drill runs")
    row = drills(own, 5).row(-1, named=True)
    assert (row["bay_id"], row["drill_id"], row["chosen_by"]) == ("B06", "R2", "coach")
    assert row["ends_at"] - row["starts_at"] >= SLIP
    assert not row["placed_afterwards"]


def test_one_tap_marks_a_stretch_the_next_ends_it_and_a_stop_ends_the_drill(
    tablet: webdriver.Chrome, address: str, own: Path
) -> None:
    browsing.open_page(tablet, address, bay_of(2), QUESTION)
    for kind, label in words.MARKS.items():
        tap(tablet, label)
        tap(tablet, words.MARK_ENDS.format(kind=label))
        browsing.button(tablet, label)
        row = entries(own, "set_aside").row(-1, named=True)
        assert (row["kind"], row["bay_id"], row["ends_at"] is not None) == (kind, "B03", True)
    tap(tablet, DRILL)
    tap(tablet, BEGINS)
    tap(tablet, words.STOPS["pain"])
    says(tablet, words.STOPPED)
    assert entries(own, "stop_entry")["kind"].to_list() == ["pain"]
    assert drills(own, 2)["ends_at"].null_count() == 0


def test_a_drill_left_open_still_stands_open_when_the_tablet_comes_back(
    tablet: webdriver.Chrome, address: str, own: Path
) -> None:
    begin(tablet, address, 3)
    tablet.get("about:blank")
    browsing.open_page(tablet, address, bay_of(3), QUESTION)
    says(tablet, f"{DRILL} runs since")
    browsing.button(tablet, ENDS)
    assert drills(own, 3)["ends_at"].to_list() == [None]


def test_a_drill_of_the_last_session_is_placed_by_pointing_at_the_gaps_between_balls(
    tablet: webdriver.Chrome, address: str, own: Path
) -> None:
    browsing.open_page(tablet, address, bay_of(4), QUESTION)
    browsing.unfold(tablet, words.SECTIONS["afterwards"])
    browsing.choose(tablet, words.DRILL, DRILL, exact=True)
    with duckdb.connect(str((own / "published" / "current.duckdb").resolve()), read_only=True) as file:
        night, last = file.execute(
            "select max(night), max(struck_at_local) from core.shot where student_id = 'S004' and night = "
            "(select max(night) from core.session where student_id = 'S004')"
        ).fetchone()
    tap(tablet, day(night))
    browsing.choose(tablet, words.GAP_DOWN, "after ball")
    browsing.choose(tablet, words.GAP_UP, words.TO_THE_END)
    tap(tablet, words.ENTER)
    browsing.until(tablet, lambda _: drills(own, 4).height == 1)
    row = drills(own, 4).row(0, named=True)
    assert row["placed_afterwards"]
    assert row["starts_at"].date() == night
    assert row["ends_at"] == last + timedelta(seconds=1)


def test_an_untouched_form_enters_nothing_and_what_is_entered_afterwards_can_be_undone(
    tablet: webdriver.Chrome, address: str, own: Path
) -> None:
    browsing.open_page(tablet, address, bay_of(7), QUESTION)
    browsing.unfold(tablet, words.SECTIONS["afterwards"])
    browsing.until(tablet, lambda page: page.find_elements(By.XPATH, ENTER_BUTTON))
    assert not tablet.find_element(By.XPATH, ENTER_BUTTON).is_enabled()
    now_there = now(ZONE)
    enter(own, actions.begin_drill, drill_id="R2", starts_at=now_there - timedelta(minutes=30),
          ends_at=now_there - timedelta(minutes=20), student_id="S007", bay_id="B02")  # fmt: skip
    browsing.open_page(tablet, address, bay_of(7), QUESTION)
    begin(tablet, address, 7)
    tap(tablet, words.UNDO)
    says(tablet, words.UNDONE)
    assert drills(own, 7).height == 1


def test_two_tablets_write_at_once_and_neither_loses_an_entry(
    tablet: webdriver.Chrome, other_tablet: webdriver.Chrome, address: str, own: Path
) -> None:
    both = {tablet: 1, other_tablet: 6}
    for one, number in both.items():
        browsing.open_page(one, address, bay_of(number), QUESTION)
        tap(one, DRILL)
        browsing.button(one, BEGINS)
    for one in both:  # tapped one right after the other, without waiting for what comes of it
        tap(one, BEGINS)
    for one, number in both.items():
        says(one, f"{DRILL} runs since")
        assert drills(own, number)["ends_at"].to_list() == [None]


def test_two_tablets_that_end_the_same_drill_end_it_once(
    tablet: webdriver.Chrome, other_tablet: webdriver.Chrome, address: str, own: Path
) -> None:
    begin(tablet, address, 0)
    browsing.open_page(other_tablet, address, bay_of(0), QUESTION)
    wait_past_a_slip(tablet, drills(own, 0)["starts_at"][-1])
    for one in (tablet, other_tablet):
        browsing.button(one, ENDS)
    for one in (tablet, other_tablet):
        tap(one, ENDS)
    for one in (tablet, other_tablet):
        says(one, "no drill runs")
    every = all_entries(own, "drill_entry").filter(pl.col("student_id") == "S000")
    assert every.height == 2  # its beginning, and one end


def test_an_entry_survives_a_server_that_is_killed_before_the_drill_ends(
    tablet: webdriver.Chrome, home: Path, tmp_path: Path
) -> None:
    own, port = in_the_morning(own_home(home, tmp_path)), browsing.free_port()
    server = browsing.start(own, port)
    try:
        begin(tablet, f"http://localhost:{port}", 5)
    finally:
        server.kill()  # no chance to put anything in order
        server.wait(timeout=browsing.PATIENCE)
    assert drills(own, 5)["ends_at"].to_list() == [None]
    server = browsing.start(own, port)
    try:
        browsing.open_page(tablet, f"http://localhost:{port}", bay_of(5), QUESTION)
        says(tablet, f"{DRILL} runs since")
        wait_past_a_slip(tablet, drills(own, 5)["starts_at"][-1])
        tap(tablet, ENDS)
        says(tablet, "no drill runs")
    finally:
        browsing.end(server)
    assert drills(own, 5)["ends_at"].null_count() == 0
