"""A dashboard as a process of its own, and headless browsers that open its pages. Not here: what must be true."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from selenium import webdriver
from selenium.common.exceptions import (
    ElementClickInterceptedException,
    ElementNotInteractableException,
    StaleElementReferenceException,
)
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement
from selenium.webdriver.support.ui import WebDriverWait

from tests.clock import PATIENCE
from tests.ports import free_port

ROOT = Path(__file__).parents[2]
DONE = '[data-testid="stApp"][data-test-script-state="notRunning"]'
FIND_BUTTON = """
return [...document.querySelectorAll("button")].find(
    one => one.innerText.trim() === arguments[0] && one.offsetParent !== null && !one.disabled)
"""
MOVING = """
return document.getAnimations().some(
    one => one.playState === "running" && Number.isFinite(one.effect.getComputedTiming().endTime))
"""
WIDER = "return document.documentElement.scrollWidth - window.innerWidth"
BOX = '[data-testid="stException"]'
NOT_YET = (StaleElementReferenceException, ElementNotInteractableException, ElementClickInterceptedException)
PICTURES = '[data-testid="stVegaLiteChart"] canvas, [data-testid="stVegaLiteChart"] svg'


def program(*names: str) -> str:
    """Return the path of an installed program, or fail saying what to install."""
    found = next((path for path in map(shutil.which, names) if path), None)
    if found is None:
        pytest.fail(f"{names[0]} is not installed; on Debian: apt-get install chromium chromium-driver")
    return found


def wait_for(address: str, server: subprocess.Popen[bytes], seconds: float = PATIENCE) -> None:
    """Wait until the dashboard answers."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        assert server.poll() is None, "the dashboard ended while starting"
        try:
            urllib.request.urlopen(f"{address}/_stcore/health", timeout=10).close()
            return
        except OSError:
            time.sleep(0.2)
    pytest.fail(f"the dashboard did not answer within {seconds} s")


def start(home: Path, port: int, *options: str, folder: Path = ROOT) -> subprocess.Popen[bytes]:
    """Start the dashboard of a home on this machine; return its process once it answers.

    Parameters
    ----------
    *options
        More options of the server.
    folder
        Where it is started: its `.streamlit/secrets.toml` holds the login, if there is one.
    """
    command = [
        sys.executable, "-m", "streamlit", "run", str(ROOT / "dashboard" / "streamlit_app.py"),
        "--server.address", "localhost", "--server.port", str(port), *options, "--", "--home", str(home),
    ]  # fmt: skip
    paths = os.pathsep.join(filter(None, (str(ROOT), os.environ.get("PYTHONPATH"))))
    server = subprocess.Popen(
        command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": paths},
    )  # fmt: skip
    try:
        wait_for(f"http://localhost:{port}", server)
    except BaseException:
        end(server)
        raise
    return server


def end(server: subprocess.Popen[bytes]) -> None:
    """Let a server end; its process is gone afterwards."""
    server.terminate()
    with suppress(subprocess.TimeoutExpired):
        server.wait(timeout=10)
    server.kill()
    server.wait(timeout=PATIENCE)


@contextmanager
def serving(home: Path, *options: str, folder: Path = ROOT) -> Iterator[str]:
    """Serve a home; give the address."""
    port = free_port()
    server = start(home, port, *options, folder=folder)
    try:
        yield f"http://localhost:{port}"
    finally:
        end(server)


@contextmanager
def headless(width: int = 1280, height: int = 1100) -> Iterator[webdriver.Chrome]:
    """Start a headless browser of its own."""
    options = webdriver.ChromeOptions()
    options.binary_location = program("chromium", "chromium-browser", "google-chrome")
    for argument in ("--headless=new", "--no-sandbox", "--disable-dev-shm-usage", "--hide-scrollbars"):
        options.add_argument(argument)
    driver = webdriver.Chrome(options, Service(program("chromedriver"), free_port()))
    try:
        driver.set_script_timeout(PATIENCE)
        driver.set_window_size(width, height)
        yield driver
    finally:
        driver.quit()


def print_page(page: Path, pdf: Path) -> None:
    """Print a page to a PDF by a browser of its own, as a person would."""
    command = [
        program("chromium", "chromium-browser", "google-chrome"), "--headless=new", "--no-sandbox", "--disable-gpu",
        "--disable-dev-shm-usage", "--no-pdf-header-footer", f"--user-data-dir={pdf.with_suffix('.profile')}",
        f"--print-to-pdf={pdf}", page.as_uri(),
    ]  # fmt: skip
    subprocess.run(command, check=True, timeout=PATIENCE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def look(driver: webdriver.Chrome, scheme: str) -> None:
    """Let the device prefer light or dark."""
    driver.execute_cdp_cmd(
        "Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    )


def until(driver: webdriver.Chrome, true: Callable[[webdriver.Chrome], Any], seconds: float = PATIENCE) -> Any:
    """Wait until something holds of a page; elements drawn anew meanwhile are looked for again."""
    waiting = WebDriverWait(driver, seconds, 0.1, ignored_exceptions=NOT_YET)
    return waiting.until(true)


def text(driver: webdriver.Chrome) -> str:
    """Return what a page says."""
    return driver.find_element(By.TAG_NAME, "body").text


def says(driver: webdriver.Chrome, wanted: str, seconds: float = PATIENCE) -> None:
    """Wait until a page has run and says something."""
    until(driver, lambda page: page.find_elements(By.CSS_SELECTOR, DONE) and wanted in text(page), seconds)


def stands_still(driver: webdriver.Chrome) -> None:
    """Wait until a page has run and nothing on it fades or slides any more."""
    until(driver, lambda page: page.find_elements(By.CSS_SELECTOR, DONE) and not page.execute_script(MOVING))


def fits(driver: webdriver.Chrome) -> bool:
    """Wait until a page needs no sideways scrolling; what is being drawn may be too wide for a moment."""
    return bool(until(driver, lambda page: page.execute_script(WIDER) <= 0))


def open_page(driver: webdriver.Chrome, address: str, path: str, question: str) -> None:
    """Open a page and wait until it stands."""
    driver.get(f"{address}/{path}")
    says(driver, question)


def button(driver: webdriver.Chrome, label: str) -> WebElement:
    """Return the button that says exactly this, once there is one that can be tapped."""
    return until(driver, lambda page: page.execute_script(FIND_BUTTON, label))


def tap(driver: webdriver.Chrome, label: str) -> None:
    """Tap the button that says exactly this."""

    def tapped(page: webdriver.Chrome) -> bool:
        one = button(page, label)
        page.execute_script("arguments[0].scrollIntoView({block: 'center'})", one)
        one.click()
        return True

    until(driver, tapped)


def tap_first(driver: webdriver.Chrome, selector: str, said: str = "") -> None:
    """Tap the first element of a selector that says this, once there is one that can be tapped."""

    def tapped(page: webdriver.Chrome) -> bool:
        found = [one for one in page.find_elements(By.CSS_SELECTOR, selector) if said in one.text]
        if found:
            page.execute_script("arguments[0].scrollIntoView({block: 'center'})", found[0])
            found[0].click()
        return bool(found)

    until(driver, tapped)


def unfold(driver: webdriver.Chrome, title: str) -> None:
    """Open the folded part with this title."""

    def opened(page: webdriver.Chrome) -> bool:
        for folded in page.find_elements(By.CSS_SELECTOR, "details > summary"):
            if folded.text.strip().endswith(title):
                page.execute_script("arguments[0].scrollIntoView({block: 'center'})", folded)
                folded.click()
                return True
        return False

    until(driver, opened)


def choose(driver: webdriver.Chrome, label: str, option: str, *, exact: bool = False) -> None:
    """Choose the first option that begins so, in the last list whose label holds (or exactly is) this."""
    test = f"normalize-space() = '{label}'" if exact else f"contains(., '{label}')"
    path = f"//*[@data-testid='stSelectbox'][.//label[{test}]]//input"

    def picked(page: webdriver.Chrome) -> bool:
        every = page.find_elements(By.CSS_SELECTOR, '[role="option"]')
        if not every:
            box = page.find_elements(By.XPATH, path)[-1]
            page.execute_script("arguments[0].scrollIntoView({block: 'center'})", box)
            box.click()
            time.sleep(0.3)
            return False
        wanted = [one for one in every if one.text.strip().startswith(option)]
        if wanted:
            wanted[0].click()
        return bool(wanted)

    until(driver, lambda page: page.find_elements(By.XPATH, path))
    until(driver, picked)
    until(driver, lambda page: page.find_elements(By.CSS_SELECTOR, DONE))
