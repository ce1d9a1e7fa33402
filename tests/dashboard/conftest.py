"""Homes to read: one with a made published file, one with an empty file, one with nothing."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
import made_file
from streamlit import config


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
