"""Every page in a real browser at a tablet's and a desk's width: it draws, without an error box; pictures are kept."""

from __future__ import annotations

from pathlib import Path

import pytest
from browsing import BOX, PICTURES, fits, open_page, says, tap_first, until
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.text import words

WIDTHS = (1280, 820)


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder that keeps the screenshots."""
    return tmp_path_factory.mktemp("screenshots")


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("page", words.PAGES)
def test_a_page_stands_without_an_error_box_or_sideways_scrolling(
    page: str, width: int, browser: webdriver.Chrome, address: str, pictures: Path
) -> None:
    browser.set_window_size(width, 1100)
    path = {"week": "", "students": "students?student=S005"}.get(page, page)
    open_page(browser, address, path, words.QUESTIONS[page])
    charts = {"week": 3, "cohorts": 1, "drills": 1, "drill": 1, "students": 4, "bays": 3}.get(page, 0)
    until(browser, lambda shown: len(shown.find_elements(By.CSS_SELECTOR, PICTURES)) >= charts)
    browser.save_screenshot(str(pictures / f"{page}-{width}.png"))
    assert not browser.find_elements(By.CSS_SELECTOR, BOX)
    assert fits(browser)


def test_a_coach_reaches_a_student_in_two_taps_and_reads_the_answer(browser: webdriver.Chrome, address: str) -> None:
    browser.set_window_size(820, 1100)
    open_page(browser, address, "students", words.QUESTIONS["students"])
    tap_first(browser, '[data-testid="stSelectbox"] [role="combobox"], [data-testid="stSelectbox"] input')
    tap_first(browser, '[role="option"]:nth-of-type(4), [role="option"]')
    until(browser, lambda page: "student=" in page.current_url)
    says(browser, "day-to-day difference")


@pytest.mark.parametrize("page", ["", "cohorts"])
def test_a_page_says_which_term_it_is_and_which_weeks_are_compared(
    page: str, browser: webdriver.Chrome, address: str
) -> None:
    open_page(browser, address, page, words.QUESTIONS[page or "week"])
    says(browser, "This term: Spring term, 3 March 2031 to 24 May 2031.")
    says(browser, "3 March 2031 to 16 March 2031, against 31 March 2031 to 13 April 2031.")
