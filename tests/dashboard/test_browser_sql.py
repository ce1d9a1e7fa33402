"""The SQL page by keyboard: Ctrl+Enter runs, and a result stands under its own query only."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import browsing
import pytest
from made_notebook import own_home
from selenium import webdriver
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys

from dashboard.text import words

FIRST = "select 40 + 2 as answer"


@pytest.fixture(scope="module")
def address(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a made home of its own: a query leaves a line of use."""
    with browsing.serving(own_home(home, tmp_path_factory.mktemp("sql"))) as served:
        yield served


def write(browser: webdriver.Chrome, text: str, *keys: str) -> None:
    """Write a query in place of what stands there, then press keys."""
    field = browser.find_element(By.CSS_SELECTOR, "textarea")
    field.send_keys(Keys.CONTROL, "a")
    field.send_keys(text, *keys)


def test_ctrl_and_enter_run_the_query_and_another_takes_the_result_away(
    browser: webdriver.Chrome, address: str
) -> None:
    browsing.open_page(browser, address, "sql", words.QUESTIONS["sql"])
    write(browser, FIRST, Keys.CONTROL, Keys.ENTER)
    browsing.says(browser, "1 row, ")
    code = browser.find_element(By.CSS_SELECTOR, '[data-testid="stCode"]')
    assert code.text.strip() == FIRST
    browsing.choose(browser, words.LABELS["example"], "Tables")
    browsing.until(browser, lambda page: "1 row, " not in browsing.text(page))
