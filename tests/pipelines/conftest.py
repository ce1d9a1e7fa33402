"""A published home on which late files wait, made once for all tests of faults."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.pipelines.killed_night import PUBLISHED, SAMPLE, Undisturbed, content, land_late, night


@pytest.fixture(scope="session")
def undisturbed(tmp_path_factory: pytest.TempPathFactory) -> Undisturbed:
    """Publish the sample, keep a copy on which the late files wait, and take them in undisturbed beside it."""
    whole = tmp_path_factory.mktemp("undisturbed")
    shutil.copytree(SAMPLE / "landing", whole / "landing")
    first = night(whole)
    assert first.outcome in PUBLISHED, first.message
    before = content(whole / "published" / "current.duckdb")
    land_late(whole)
    waiting = tmp_path_factory.mktemp("waiting") / "home"
    shutil.copytree(whole, waiting, symlinks=True)
    second = night(whole)
    assert second.outcome in PUBLISHED, second.message
    after = content(whole / "published" / "current.duckdb")
    assert after["core.shot"] != before["core.shot"], "the late files change shots, so that old and new differ"
    return Undisturbed(waiting, before, after, len(second.steps))


@pytest.fixture
def home(undisturbed: Undisturbed, tmp_path: Path) -> Path:
    """Return a copy of the home in which the late files wait."""
    return Path(shutil.copytree(undisturbed.waiting, tmp_path / "home", symlinks=True))
