"""Hostile names on the pages of trials and of the notebook, in each of their states, and in what they give to download.

Tried in a real browser, which would run what a page lets through; the downloads by what each button would give.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import browsing
import made_hostile
import made_trials
import pytest
from made_hostile import NAMES, harmless, shown_as_text
from made_notebook import BAY, STUDENT, ZONE, enter, in_bay, in_the_morning, opened, url
from made_tables import student_id
from selenium import webdriver

from dashboard.notebook.store import now
from dashboard.shell import access
from dashboard.text import notebook, trials
from warehouse.notebook import actions
from warehouse.notebook.store import open_store
from warehouse.trials import book
from warehouse.trials.plan import Plan

TITLE = " ".join((NAMES[1], NAMES[3], NAMES[6], *NAMES[10:13]))
TYPED = " ".join((NAMES[0], NAMES[4], NAMES[11], NAMES[13], "\u202ebackwards"))
NUMBER = re.compile(r"[+-]?\d+(\.\d+)?(e[+-]?\d+)?")
FORMULAS = ("=", "+", "-", "@", "\t", "\r")


def goes_on(home: Path, student: str, today: date) -> None:
    """Let a student have a goal in hostile words, an open drill, one that is over, a hold and a stop."""
    at = datetime(today.year, today.month, today.day, 9)
    enter(home, actions.set_goal, student_id=student, words=TYPED, metric="carry", club_group="driver", target=200.0)
    store = open_store(url(home))
    actions.begin_drill(store, drill_id="R2", starts_at=at, ends_at=at + timedelta(minutes=9), student_id=student,
                        bay_id=BAY, by=TYPED)  # fmt: skip
    actions.hold(store, student_id=student, drill_id="H1", until=today + timedelta(days=9), by=TYPED)
    actions.record_stop(store, student_id=student, drill_id="R2", kind="rebound", at=at, by=TYPED)
    store.close()


def drill_runs(home: Path, student: str, today: date) -> None:
    """Let a drill run."""
    at = datetime(today.year, today.month, today.day, 9, 30)
    enter(home, actions.begin_drill, drill_id="R1", starts_at=at, student_id=student, bay_id=BAY)


def with_trials(home: Path, today: date) -> Path:
    """Make a trial planned, one at work with some drawn, and one finished, all with hostile words."""
    over = made_trials.begun(home, trial_id="T2", title=TITLE)
    lots = made_trials.entered(home, over, range(20))
    made_trials.declined(home, over, student_id(21), TYPED)
    made_trials.done_as_drawn(home, lots)
    made_trials.ended(home, over)
    made_trials.begun(home, on=today + timedelta(days=20), trial_id="T3", title=TITLE)
    running = made_trials.begun(home, on=today - timedelta(days=9), trial_id="T1", title=TITLE)
    made_trials.entered(home, running, range(6), on=today - timedelta(days=9))
    made_trials.declined(home, running, student_id(9), TYPED)
    goes_on(home, STUDENT, today)
    return home


@pytest.fixture(scope="module")
def hostile(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a home with hostile names and trials in every state, on the real day."""
    own = in_the_morning(made_hostile.home(home, tmp_path_factory.mktemp("hostile")))
    return with_trials(own, now(ZONE).date())


@pytest.fixture(scope="module")
def address(hostile: Path) -> Iterator[str]:
    """Serve it."""
    with browsing.serving(hostile) as at:
        yield at


def looked_at(browser: webdriver.Chrome, address: str, path: str, said: str) -> None:
    """Open a page at both widths with all that is folded, and look at it."""
    for width in (1280, 820):
        browser.set_window_size(width, 1100)
        browsing.open_page(browser, address, path, said)
        browser.execute_script("document.querySelectorAll('details:not([open]) > summary').forEach(one => one.click())")
        browsing.says(browser, said)
        shown_as_text(browser)


TRIALS = ("show=next", "show=plan", "show=trials", "show=trials&trial=T1", "show=trials&trial=T2",
          "show=trials&trial=T3")  # fmt: skip


@pytest.mark.parametrize("asked", TRIALS)
def test_trials_in_every_state_show_hostile_names_as_text(asked: str, browser: webdriver.Chrome, address: str) -> None:
    looked_at(browser, address, f"trials?{asked}", trials.SMALL_PRINT[:40])


NOTEBOOK = ("", f"bay={BAY}", *(f"bay={BAY}&student={student_id(n)}" for n in range(len(NAMES))))


@pytest.mark.parametrize("asked", NOTEBOOK)
def test_the_notebook_shows_hostile_names_as_text(asked: str, browser: webdriver.Chrome, address: str) -> None:
    looked_at(browser, address, f"notebook?{asked}", notebook.QUESTIONS["notebook"])


def test_the_notebook_shows_hostile_names_as_text_after_its_taps(
    hostile: Path, browser: webdriver.Chrome, address: str
) -> None:
    student = student_id(7)
    drill_runs(hostile, student, now(ZONE).date())
    looked_at(browser, address, f"notebook?bay={BAY}&student={student}", notebook.STOPS["pain"])
    browsing.tap(browser, notebook.STOPS["pain"])
    browsing.says(browser, notebook.STOPPED[:40])
    shown_as_text(browser)


def given(app_of: Any, monkeypatch: pytest.MonkeyPatch) -> dict[str, bytes]:
    """Return what each button of a page would give to download, by its file's name."""
    told: dict[str, bytes] = {}

    def kept(_label: str, make: Any, name: str, _mime: str, **_: Any) -> None:
        told[name] = make if isinstance(make, bytes) else make()

    monkeypatch.setattr(access, "download", kept)
    app = app_of()
    assert not app.exception
    return told


def test_what_the_pages_give_to_download_runs_in_no_spreadsheet_and_in_no_browser(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at_ten: None
) -> None:
    here = with_trials(made_hostile.home(home, tmp_path), made_trials.TODAY)
    pages = [lambda asked=asked: opened(here, "trials", monkeypatch, **dict(x.split("=") for x in asked.split("&")))
             for asked in TRIALS]  # fmt: skip
    told: dict[str, bytes] = {}
    for page in (*pages, lambda: in_bay(here, monkeypatch)):
        told |= given(page, monkeypatch)
    assert {"lots-T1.csv", "lots-T1.html", f"card-{STUDENT}.html"} <= set(told)
    assert [name for name in told if name.endswith(".html") and "T2" in name], "the report"
    hostile_cells = 0
    for name, held in told.items():
        if name.endswith(".html"):
            harmless(held.decode())
        else:
            cells = [cell for row in csv.reader(io.StringIO(held.decode(), newline="")) for cell in row]
            assert [cell for cell in cells if cell.startswith(FORMULAS) and not NUMBER.fullmatch(cell)] == []
            hostile_cells += sum("calc" in cell or "hurt" in cell for cell in cells)
    assert hostile_cells


@pytest.mark.parametrize("trial_id", ["<img src=x>", "=1+1", "../T1", "T\u202e1", "T" * 300, "a b", ""])
def test_an_id_that_is_more_than_letters_and_digits_begins_no_trial(trial_id: str, tmp_path: Path) -> None:
    store = open_store(url(tmp_path))
    with pytest.raises(ValueError, match=r"id|letters"):
        book.begin(store, tmp_path, Plan(**(made_trials.PLAN | {"trial_id": trial_id})), begun_on=made_trials.BEGUN,
                   by="director")  # fmt: skip
    assert not (tmp_path / "trials").exists() or not list((tmp_path / "trials").iterdir())
    store.close()
