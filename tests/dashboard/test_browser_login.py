"""Login by a provider on this machine, worked by hand in a browser: who gets in, and what each role then has."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import browsing
import duckdb
import made_notebook
import pytest
from browsing import says, tap
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.shell.access import PAGES_OF
from dashboard.text import access, notebook, words

SETTINGS = """[access]
directors = ["head@academy.example"]
coaches = { "coach@academy.example" = "k1" }
analysts = ["numbers@academy.example"]
front_office = ["desk@academy.example"]
"""
SECRETS = """[auth]
redirect_uri = "http://localhost:{port}/oauth2callback"
cookie_secret = "made for this test and for nothing else"
client_id = "dashboard"
client_secret = "made"
server_metadata_url = "{provider}/.well-known/openid-configuration"
"""
WHO = {
    "director": "head@academy.example",
    "coach": "coach@academy.example",
    "analyst": "numbers@academy.example",
    "front office": "desk@academy.example",
}
STRANGER, UNVERIFIED = "else", "unverified"
TITLES = {**words.PAGES, **notebook.PAGES}


@pytest.fixture(scope="module")
def provider() -> Iterator[str]:
    """Serve an OpenID provider on this machine that knows one person a role, a stranger, and an unverified e-mail."""
    from oidc_provider_mock import User, run_server_in_thread

    known = [User(sub=role, claims={"email": email, "email_verified": True}) for role, email in WHO.items()]
    known.append(User(sub=STRANGER, claims={"email": "else@academy.example", "email_verified": True}))
    known.append(User(sub=UNVERIFIED, claims={"email": WHO["director"], "email_verified": False}))
    with run_server_in_thread(user_claims=known) as server:
        yield f"http://localhost:{server.server_port}"


@pytest.fixture(scope="module")
def address(provider: str, home: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a made home with that login and roles by settings; the coach k1 had student S004 last."""
    folder = tmp_path_factory.mktemp("with_login")
    own = made_notebook.own_home(home, folder)
    (own / "academy.toml").write_text(SETTINGS, encoding="utf-8")
    with duckdb.connect(str((own / "published" / "current.duckdb").resolve())) as file:
        file.execute("update core.session set coach_id = case when student_id = 'S004' then 'k1' else 'k2' end")
    port = browsing.free_port()
    secrets = folder / "secrets.toml"
    secrets.write_text(SECRETS.format(port=port, provider=provider), encoding="utf-8")
    server = browsing.start(own, port, "--secrets.files", str(secrets))
    try:
        yield f"http://localhost:{port}"
    finally:
        browsing.end(server)


def log_in(browser: webdriver.Chrome, address: str, sub: str) -> None:
    """Forget who was logged in, log in with the provider as this subject, and come back."""
    browser.get(address)
    browser.delete_all_cookies()
    browser.get(address)
    says(browser, access.PLEASE_LOG_IN)
    tap(browser, access.LOG_IN)
    field = browsing.until(browser, lambda page: page.find_element(By.CSS_SELECTOR, 'input[name="sub"]'))
    field.send_keys(sub)
    browser.find_element(By.XPATH, "//button[normalize-space()='Authorize']").click()
    browsing.until(browser, lambda page: page.current_url.startswith(address))


def links(browser: webdriver.Chrome) -> list[str]:
    """Return the pages offered, those folded into "more" too."""
    every = browser.find_elements(By.CSS_SELECTOR, '[data-testid="stTopNavLink"], [data-testid="stTopNavDropdownLink"]')
    return [one.text for one in every if one.text]


def test_signed_out_nothing_is_seen_on_any_address(browser: webdriver.Chrome, address: str) -> None:
    asked = "sql?sql=select+name+from+mart.student"
    for page in ("", "students", "notebook", asked, "take_home?alone=yes&student=S004"):
        browser.get(f"{address}/{page}")
        browser.delete_all_cookies()
        browser.get(f"{address}/{page}")
        says(browser, access.PLEASE_LOG_IN)
        assert "Family" not in browser.page_source
        assert "mart.student" not in browsing.text(browser)
        assert links(browser) == []


def test_the_front_office_has_bays_and_help_and_no_student(browser: webdriver.Chrome, address: str) -> None:
    log_in(browser, address, "front office")
    says(browser, words.QUESTIONS["bays"])
    says(browser, "Logged in as desk@academy.example, front office.")
    offered = [TITLES[page] for page in PAGES_OF["front office"]]
    assert browsing.until(browser, lambda page: links(page) == offered)
    for page in ("notebook", "students"):
        browser.get(f"{address}/{page}")
        says(browser, words.QUESTIONS["bays"])
        assert "Family" not in browser.page_source


def test_a_coach_has_the_own_student_first_and_no_sql(browser: webdriver.Chrome, address: str) -> None:
    log_in(browser, address, "coach")
    says(browser, "Logged in as coach@academy.example, coach.")
    browsing.open_page(browser, address, "students", words.QUESTIONS["students"])
    browsing.tap_first(browser, '[data-testid="stSelectbox"] [role="combobox"], [data-testid="stSelectbox"] input')
    browsing.until(browser, lambda page: page.find_elements(By.CSS_SELECTOR, '[role="option"]'))
    assert browser.find_elements(By.CSS_SELECTOR, '[role="option"]')[0].text.strip() == "Given4 Family4"
    browser.get(f"{address}/sql")
    says(browser, words.QUESTIONS["week"])
    assert TITLES["sql"] not in links(browser)


def test_an_analyst_sees_ids_and_no_notebook(browser: webdriver.Chrome, address: str) -> None:
    log_in(browser, address, "analyst")
    browsing.open_page(browser, address, "students?student=S003", words.QUESTIONS["students"])
    says(browser, "Logged in as numbers@academy.example, analyst.")
    assert "Family" not in browser.page_source
    assert TITLES["notebook"] not in links(browser)
    browser.get(f"{address}/notebook")
    says(browser, words.QUESTIONS["week"])


def test_a_director_reads_and_logs_out_and_then_sees_nothing(
    browser: webdriver.Chrome, address: str, provider: str
) -> None:
    log_in(browser, address, "director")
    browsing.open_page(browser, address, "notebook?bay=B06&student=S005", notebook.QUESTIONS["notebook"])
    says(browser, "Given5 Family5")
    says(browser, "Logged in as head@academy.example, director.")
    tap(browser, access.LOG_OUT)
    browsing.until(  # the provider may ask whether to end its own session too
        browser,
        lambda page: page.current_url.startswith(provider) or access.PLEASE_LOG_IN in browsing.text(page),
    )
    browser.get(f"{address}/students")
    says(browser, access.PLEASE_LOG_IN)
    assert "Family" not in browser.page_source


def test_a_copied_login_is_worth_nothing_after_the_logout(browser: webdriver.Chrome, address: str) -> None:
    log_in(browser, address, "director")
    says(browser, "Logged in as head@academy.example, director.")
    copied = [one for one in browser.get_cookies() if one["name"].startswith("_streamlit_user")]
    assert copied
    browser.get(f"{address}/auth/logout")
    browser.get(f"{address}/_stcore/health")
    browser.delete_all_cookies()
    for one in copied:
        browser.add_cookie(one)
    browser.get(f"{address}/students")
    says(browser, access.PLEASE_LOG_IN)
    assert "Family" not in browser.page_source


@pytest.mark.parametrize("sub", [STRANGER, UNVERIFIED])
def test_who_is_not_named_in_the_settings_is_told_what_to_ask_for(
    sub: str, browser: webdriver.Chrome, address: str
) -> None:
    log_in(browser, address, sub)
    says(browser, f"add your subject {sub}")
    assert "Family" not in browser.page_source
    assert links(browser) == []
