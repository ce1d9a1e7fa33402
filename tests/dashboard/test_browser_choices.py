"""What a person chose stays chosen from page to page, and no page chooses for them; in a real browser."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import browsing
import pytest
from browsing import open_page, says, stands_still
from made_notebook import in_the_morning, own_home
from selenium import webdriver

from dashboard.text import notebook, words

MINE, NAME = "S005", "Given5 Family5"
SHOWN = """
return [...document.querySelectorAll('[data-testid="stSelectbox"]')].map(
    one => [one.querySelector('label').innerText.trim(), one.querySelector('input').value
        || (one.querySelector('[data-baseweb="select"]') || one).innerText.replace(/\\s+/g, ' ').trim()])
"""
CHOSEN = """
return [...document.querySelectorAll('[data-testid="stButtonGroup"] [aria-checked="true"]')].filter(
    one => one.innerText.startsWith('Given')).map(one => one.innerText.trim())
"""


@pytest.fixture(scope="module")
def address(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a made home of its own: the notebook is written."""
    with browsing.serving(in_the_morning(own_home(home, tmp_path_factory.mktemp("choices")))) as served:
        yield served


@pytest.fixture
def reader() -> Iterator[webdriver.Chrome]:
    """Start a browser in which nothing was chosen before."""
    with browsing.headless() as driver:
        yield driver


def go(driver: webdriver.Chrome, label: str, question: str) -> None:
    """Go to another page by the menu."""
    browsing.tap_first(driver, '[data-testid="stTopNavLink"], [data-testid="stSidebarNavLink"]', label)
    says(driver, question)
    stands_still(driver)


def shown(driver: webdriver.Chrome, label: str) -> str:
    """Return what the list with this label shows."""
    return next(text for name, text in driver.execute_script(SHOWN) if name.startswith(label))


def names_somebody(driver: webdriver.Chrome) -> bool:
    """Return whether the page names a student."""
    return bool(re.search(r"Given\d+ Family\d+", browsing.text(driver)))


@pytest.mark.parametrize(
    ("page", "question", "key"),
    [
        ("students", words.QUESTIONS["students"], "student"),
        ("take_home", notebook.QUESTIONS["take_home"], "student"),
        ("bays", words.QUESTIONS["bays"], "bay"),
        ("cohorts", words.QUESTIONS["cohorts"], "cohort"),
        ("drills", words.QUESTIONS["drills"], "number"),
        ("drill", words.QUESTIONS["drill"], "drill"),
    ],
)
def test_a_page_writes_no_choice_of_its_own_into_the_address(
    page: str, question: str, key: str, reader: webdriver.Chrome, address: str
) -> None:
    open_page(reader, address, page, question)
    stands_still(reader)
    assert "?" not in reader.current_url
    if key == "student":
        assert not names_somebody(reader)
        says(reader, words.CHOOSE_A_STUDENT)


def test_the_student_in_the_bay_is_still_in_the_bay_after_a_look_at_other_pages(
    reader: webdriver.Chrome, address: str
) -> None:
    open_page(reader, address, f"notebook?bay=B06&student={MINE}", notebook.QUESTIONS["notebook"])
    go(reader, words.PAGES["students"], words.QUESTIONS["students"])
    assert NAME in shown(reader, words.LABELS["student"])
    go(reader, words.PAGES["drills"], words.QUESTIONS["drills"])
    go(reader, notebook.PAGES["take_home"], notebook.QUESTIONS["take_home"])
    says(reader, f"{notebook.TAKE_HOME['title']}: {NAME}")
    go(reader, notebook.PAGES["notebook"], notebook.QUESTIONS["notebook"])
    says(reader, f"Bay B06, {NAME}")
    assert reader.execute_script(CHOSEN) == [NAME]


def test_another_student_chosen_on_one_page_is_the_student_of_every_page(
    reader: webdriver.Chrome, address: str
) -> None:
    open_page(reader, address, f"students?student={MINE}", words.QUESTIONS["students"])
    stands_still(reader)
    browsing.choose(reader, words.LABELS["student"], "Given7 Family7")
    browsing.until(reader, lambda page: "student=S007" in page.current_url)
    go(reader, notebook.PAGES["take_home"], notebook.QUESTIONS["take_home"])
    says(reader, f"{notebook.TAKE_HOME['title']}: Given7 Family7")


def test_number_cohort_and_night_stay_as_chosen(reader: webdriver.Chrome, address: str) -> None:
    number = "driver.attack_angle"
    open_page(reader, address, f"cohorts?cohort=Spring&number={number}", words.QUESTIONS["cohorts"])
    stands_still(reader)
    go(reader, words.PAGES["drills"], words.QUESTIONS["drills"])
    assert shown(reader, words.LABELS["number"]).startswith("Driver attack angle")
    go(reader, words.PAGES["bays"], words.QUESTIONS["bays"])
    browsing.choose(reader, words.LABELS["night"], "11 April 2031", exact=True)
    browsing.until(reader, lambda page: "night=2031-04-11" in page.current_url)
    go(reader, words.PAGES["cohorts"], words.QUESTIONS["cohorts"])
    assert "Spring" in shown(reader, words.LABELS["cohort"])
    assert "cohort=Spring" in reader.current_url
    go(reader, words.PAGES["bays"], words.QUESTIONS["bays"])
    assert "11 April 2031" in shown(reader, words.LABELS["night"])


def test_a_second_tap_on_the_chosen_student_clears_nothing(reader: webdriver.Chrome, address: str) -> None:
    open_page(reader, address, f"notebook?bay=B06&student={MINE}", notebook.QUESTIONS["notebook"])
    browsing.tap(reader, NAME)
    stands_still(reader)
    says(reader, f"Bay B06, {NAME}")
    assert f"student={MINE}" in reader.current_url


def test_an_address_that_names_what_is_not_there_says_so_and_shows_nobody_else(
    reader: webdriver.Chrome, address: str
) -> None:
    open_page(reader, address, "students?student=S999", words.QUESTIONS["students"])
    says(reader, words.NOT_HERE.format(what="student", value="S999"))
    assert not names_somebody(reader)
    open_page(reader, address, "bays?night=2030-01-02", words.QUESTIONS["bays"])
    says(reader, "2030-01-02")
