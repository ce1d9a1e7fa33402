"""Every page in a real browser at a tablet's and a desk's width: it draws, without an error box; pictures are kept."""

from __future__ import annotations

import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

from dashboard import words

ROOT = Path(__file__).parents[2]
WIDTHS = (1280, 820)
DONE = '[data-testid="stApp"][data-test-script-state="notRunning"]'


def program(*names: str) -> str:
    """Return the path of an installed program, or fail saying what to install."""
    found = next((path for path in map(shutil.which, names) if path), None)
    if found is None:
        pytest.fail(f"{names[0]} is not installed; on Debian: apt-get install chromium chromium-driver")
    return found


def wait_for(address: str, server: subprocess.Popen[bytes], seconds: float = 40) -> None:
    """Wait until the dashboard answers."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        assert server.poll() is None, "the dashboard ended while starting"
        try:
            urllib.request.urlopen(f"{address}/_stcore/health", timeout=1).close()
            return
        except OSError:
            time.sleep(0.2)
    pytest.fail(f"the dashboard did not answer within {seconds} s")


@pytest.fixture(scope="module")
def address(home: Path) -> Iterator[str]:
    """Start the dashboard on the made file; return its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [
        sys.executable,
        "-m",
        "streamlit",
        "run",
        str(ROOT / "dashboard" / "streamlit_app.py"),
        "--server.address",
        "127.0.0.1",
        "--server.port",
        str(port),
        "--",
        "--home",
        str(home),
    ]
    server = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        wait_for(f"http://127.0.0.1:{port}", server)
        yield f"http://127.0.0.1:{port}"
    finally:
        server.terminate()
        server.wait(timeout=20)


@pytest.fixture(scope="module")
def browser() -> Iterator[webdriver.Chrome]:
    """Start a headless browser."""
    options = webdriver.ChromeOptions()
    options.binary_location = program("chromium", "chromium-browser", "google-chrome")
    for argument in ("--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--hide-scrollbars"):
        options.add_argument(argument)
    driver = webdriver.Chrome(options, Service(program("chromedriver")))
    yield driver
    driver.quit()


@pytest.fixture(scope="module")
def pictures(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder that keeps the screenshots."""
    return tmp_path_factory.mktemp("screenshots")


def open_page(browser: webdriver.Chrome, address: str, path: str, question: str) -> None:
    """Open a page and wait until it stands."""
    browser.get(f"{address}/{path}")
    WebDriverWait(browser, 30).until(
        lambda page: (
            page.find_elements(By.CSS_SELECTOR, DONE) and question in page.find_element(By.TAG_NAME, "body").text
        )
    )


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("page", words.PAGES)
def test_a_page_stands_without_an_error_box_or_sideways_scrolling(
    page: str, width: int, browser: webdriver.Chrome, address: str, pictures: Path
) -> None:
    browser.set_window_size(width, 1100)
    open_page(browser, address, "" if page == "week" else page, words.QUESTIONS[page])
    charts = {"week": 3, "cohorts": 1, "drills": 1, "drill": 1, "students": 4, "bays": 3}.get(page, 0)
    WebDriverWait(browser, 20).until(
        lambda shown: (
            len(
                shown.find_elements(
                    By.CSS_SELECTOR, '[data-testid="stVegaLiteChart"] canvas, [data-testid="stVegaLiteChart"] svg'
                )
            )
            >= charts
        )
    )
    browser.save_screenshot(str(pictures / f"{page}-{width}.png"))
    assert not browser.find_elements(By.CSS_SELECTOR, '[data-testid="stException"]')
    overflow = browser.execute_script("return document.documentElement.scrollWidth - window.innerWidth")
    assert overflow <= 0


def test_a_coach_reaches_a_student_in_two_taps_and_reads_the_answer(browser: webdriver.Chrome, address: str) -> None:
    browser.set_window_size(820, 1100)
    open_page(browser, address, "students", words.QUESTIONS["students"])
    box = browser.find_element(
        By.CSS_SELECTOR, '[data-testid="stSelectbox"] [role="combobox"], [data-testid="stSelectbox"] input'
    )
    box.click()
    options = WebDriverWait(browser, 10).until(lambda page: page.find_elements(By.CSS_SELECTOR, '[role="option"]'))
    wanted = options[3].text
    options[3].click()
    WebDriverWait(browser, 20).until(lambda page: "student=" in page.current_url)
    WebDriverWait(browser, 20).until(lambda page: page.find_elements(By.CSS_SELECTOR, DONE))
    assert wanted
    assert "day-to-day difference" in browser.find_element(By.TAG_NAME, "body").text
