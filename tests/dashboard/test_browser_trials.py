"""Trials in a real browser: a student agrees, is entered and drawn by taps alone; the page stands in all its parts."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import browsing
import made_trials
import pytest
from made_notebook import BAY, STUDENT, ZONE, all_entries, in_the_morning, own_home
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.notebook.store import now
from dashboard.text import trials as words

WIDTHS = (1280, 820)


@pytest.fixture(scope="module")
def here(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a made home of its own with a trial that runs on the real day."""
    own = in_the_morning(own_home(home, tmp_path_factory.mktemp("trials")))
    made_trials.begun(own, on=now(ZONE).date())
    return own


@pytest.fixture(scope="module")
def address(here: Path) -> Iterator[str]:
    """Serve the home."""
    with browsing.serving(here) as at:
        yield at


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("show", words.VIEWS)
def test_every_part_stands_without_an_error_box_or_sideways_scrolling(
    show: str, width: int, browser: webdriver.Chrome, address: str
) -> None:
    browser.set_window_size(width, 1100)
    browsing.open_page(browser, address, f"trials?show={show}", words.QUESTIONS["trials"])
    browsing.says(browser, words.SMALL_PRINT[:40])
    assert not browser.find_elements(By.CSS_SELECTOR, browsing.BOX)
    assert browsing.fits(browser)


def test_a_pair_to_try_next_opens_its_plan(browser: webdriver.Chrome, address: str) -> None:
    browser.set_window_size(1280, 1100)
    browsing.open_page(browser, address, "trials?show=next", words.PLAN_THIS)
    browsing.tap_first(browser, '[data-testid="stPageLink"] a', words.PLAN_THIS)
    browsing.says(browser, words.SECTIONS["begin"])


def test_a_coach_enters_and_draws_by_taps_and_sees_no_lot_before(
    here: Path, browser: webdriver.Chrome, address: str
) -> None:
    browser.set_window_size(820, 1100)
    title = f"{words.SECTIONS['notebook']}: {made_trials.PLAN['title']}"
    browsing.open_page(browser, address, f"notebook?bay={BAY}&student={STUDENT}", title)
    browsing.tap_first(browser, "summary", title)
    browsing.says(browser, words.AGREES["student"])
    browsing.tap(browser, words.AGREES["student"])
    browsing.says(browser, words.READY)
    page = browser.page_source
    assert "Drawn by lot" not in page
    assert (here / "trials" / "T1.secret").read_text(encoding="ascii") not in page
    assert all_entries(here, "trial_lot").is_empty()
    browsing.tap(browser, words.ENTER_AND_DRAW)
    browsing.says(browser, "Drawn by lot:")
    assert all_entries(here, "trial_lot").height == 1
