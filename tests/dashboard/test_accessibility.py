"""axe-core finds nothing serious or critical on any page, at both widths, light and dark, with everything unfolded."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path

import axe
import browsing
import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.shell.theme import LOOKS
from dashboard.text import notebook, trials, words

QUESTIONS = {**words.QUESTIONS, **notebook.QUESTIONS, **trials.QUESTIONS}
PAGES = {**words.PAGES, **notebook.PAGES, **trials.PAGES}
ADDRESS = {
    "notebook": "notebook?bay=B06&student=S005",
    "drill": "drill?drill=R1",
    "students": "students?student=S001",
    "take_home": "take_home?student=S001",
    "sql": "sql?sql=select+drill_id,+episodes+from+mart.drill",
}
WIDTHS = (1280, 820)
STREAMLIT = {
    "aria-dialog-name": ('data-testid="stToast"', "a toast is drawn as a dialog without a name; its text can be read"),
}
"""Rule -> what its element's HTML holds, and why it is Streamlit's own and not ours to mend. Must not grow."""


@pytest.fixture(scope="module")
def address(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a copy of the made home: the SQL page writes a line of use."""
    import made_notebook

    own = made_notebook.own_home(home, tmp_path_factory.mktemp("accessible"))
    with browsing.serving(made_notebook.in_the_morning(own)) as served:
        yield served


def unfold(driver: webdriver.Chrome) -> None:
    """Open everything folded, so that it is looked at too."""
    for folded in driver.find_elements(By.CSS_SELECTOR, "details:not([open]) > summary"):
        driver.execute_script("arguments[0].click()", folded)


def ours(found: list[tuple[str, str, str, str]]) -> list[tuple[str, str, str, str]]:
    """Return the faults that are not listed as Streamlit's own."""
    return [fault for fault in found if not (fault[0] in STREAMLIT and STREAMLIT[fault[0]][0] in fault[2])]


def paper(driver: webdriver.Chrome) -> tuple[int, ...]:
    """Return the colour that a page is drawn on."""
    app = driver.find_element(By.CSS_SELECTOR, '[data-testid="stApp"]')
    return tuple(int(part) for part in re.findall(r"\d+", app.value_of_css_property("background-color"))[:3])


def wait_for_look(driver: webdriver.Chrome, scheme: str) -> None:
    """Let the device prefer a look, and wait until the page has taken it and stands still."""
    browsing.look(driver, scheme)
    colour = LOOKS[scheme].paper
    wanted = tuple(int(colour[place : place + 2], 16) for place in (1, 3, 5))
    browsing.until(driver, lambda page: paper(page) == wanted)
    time.sleep(0.3)  # colours fade over for a moment, and would be measured half way
    browsing.stands_still(driver)


@pytest.mark.parametrize("page", PAGES)
def test_no_grave_fault_stands_on_a_page(page: str, address: str, browser: webdriver.Chrome) -> None:
    browser.set_window_size(WIDTHS[0], 1100)
    browsing.open_page(browser, address, ADDRESS.get(page, page), QUESTIONS[page])
    if page == "sql":
        # Not by the mouse, which would rest on the button and change its colours while they are measured.
        browser.execute_script("arguments[0].click()", browsing.button(browser, words.SQL_RUN))
        browsing.says(browser, words.DOWNLOAD_CSV)
    found = {}
    for scheme in LOOKS:
        wait_for_look(browser, scheme)
        unfold(browser)
        for width in WIDTHS:
            browser.set_window_size(width, 1100)
            browsing.until(browser, lambda shown, width=width: shown.execute_script("return innerWidth") <= width)
            browsing.stands_still(browser)
            found[scheme, width] = ours(axe.grave(browser))
    assert {where: faults for where, faults in found.items() if faults} == {}


def test_a_drill_that_runs_and_its_stops_have_no_grave_fault(address: str, browser: webdriver.Chrome) -> None:
    browser.set_window_size(WIDTHS[1], 1100)
    browsing.open_page(browser, address, "notebook?bay=B06&student=S005", QUESTIONS["notebook"])
    browsing.tap(browser, "High tee")
    browsing.tap(browser, notebook.BEGINS.format(drill="High tee"))
    browsing.button(browser, notebook.ENDS.format(drill="High tee"))
    for scheme in LOOKS:
        wait_for_look(browser, scheme)
        assert ours(axe.grave(browser)) == []


def test_the_checker_sees_a_fault_that_is_there(address: str, browser: webdriver.Chrome) -> None:
    browsing.open_page(browser, address, "help", QUESTIONS["help"])
    wait_for_look(browser, "light")
    browser.execute_script(
        "document.querySelector('h1').style.color = '#dddddd'; document.body.append(new Image());"
        "document.querySelector('h2').outerHTML = '<h4>one left out</h4>'"
    )
    wanted = {"image-alt", "color-contrast", "heading-order"}
    assert wanted <= {fault[0] for fault in axe.grave(browser)}
