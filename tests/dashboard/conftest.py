"""Homes to read: one with a made published file, one with an empty file, one with nothing."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable, Iterator
from datetime import date, datetime
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import browsing
import made_file
import made_notebook
from selenium import webdriver
from streamlit import config

from dashboard.notebook import store
from warehouse.trials import gates


@pytest.fixture(scope="session", autouse=True)
def on_this_machine() -> None:
    """Say that the server listens on this machine, as dashboard/.streamlit/config.toml does for a real one."""
    config.set_option("server.address", "localhost")


@pytest.fixture(scope="session")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a home with a made published file."""
    return made_file.make_home(tmp_path_factory.mktemp("home"))


@pytest.fixture(scope="session")
def empty_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a home whose published file has every table and no rows."""
    return made_file.make_home(tmp_path_factory.mktemp("empty_home"), empty=True)


@pytest.fixture(scope="session")
def bare_home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a home that holds nothing."""
    return tmp_path_factory.mktemp("bare_home")


@pytest.fixture(scope="session")
def published(home: Path) -> str:
    """Return the resolved path of the made published file."""
    return str((home / "published" / "current.duckdb").resolve())


@pytest.fixture
def here(home: Path, tmp_path: Path) -> Path:
    """Return a made home of its own."""
    return made_notebook.own_home(home, tmp_path)


@pytest.fixture
def at_ten(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let it be a morning after the last night published, so that no test runs across midnight."""
    monkeypatch.setattr(store, "now", lambda timezone: datetime(2031, 4, 14, 10, 5))
    that_day = functools.partial(in_future_of, gates.in_future, date(2031, 4, 14))
    monkeypatch.setattr(gates, "in_future", that_day)


def in_future_of(asked: Callable[..., str], today: date, on: date, what: str, by: date | None = None) -> str:
    """Ask whether a day has come by a day that is given."""
    return asked(on, what, by or today)


@pytest.fixture(scope="module")
def address(home: Path) -> Iterator[str]:
    """Serve the made file."""
    with browsing.serving(home) as served:
        yield served


@pytest.fixture(scope="module")
def browser() -> Iterator[webdriver.Chrome]:
    """Start a headless browser."""
    with browsing.headless() as driver:
        yield driver
