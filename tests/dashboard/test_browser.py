"""Every page in a real browser at a tablet's and a desk's width: it draws, without an error box; pictures are kept."""

from __future__ import annotations

from pathlib import Path

import pytest
from browsing import BOX, PICTURES, fits, open_page, says, stands_still, tap_first, until
from made_tables import DRILLS
from selenium import webdriver
from selenium.webdriver.common.action_chains import ActionChains
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


def test_a_tap_in_drills_by_numbers_draws_that_number_and_offers_the_drill(
    browser: webdriver.Chrome, address: str
) -> None:
    browser.set_window_size(1280, 1100)
    open_page(browser, address, "drills", words.QUESTIONS["drills"])
    until(browser, lambda page: page.find_elements(By.CSS_SELECTOR, '[data-testid="stDataFrame"] canvas'))
    stands_still(browser)
    table = browser.find_element(By.CSS_SELECTOR, '[data-testid="stDataFrame"] canvas')
    # The grid is drawn, not made of elements: its first drill's row, in the first number's column.
    left, top = 260 - table.size["width"] // 2, 52 - table.size["height"] // 2
    ActionChains(browser).move_to_element_with_offset(table, left, top).click().perform()
    until(browser, lambda page: "number=" in page.current_url)
    names = [drill[1] for drill in DRILLS]
    until(browser, lambda page: any(f"Open {name}" in page.page_source for name in names))
