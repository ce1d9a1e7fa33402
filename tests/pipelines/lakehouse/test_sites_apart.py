"""One site's trouble is its own: the others are published, and it is told."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from pipelines.runs import one_machine
from tests.pipelines.lakehouse.conftest import landed, on_lakehouse
from tests.pipelines.nights.conftest import events_in_memory, rows
from warehouse.audit import audit
from warehouse.audit.audit import Check, Fault
from warehouse.home import Home
from warehouse.lakehouse import lease, sites
from warehouse.schema.declaration import BLOCKING
from warehouse.settings.settings import load

NIGHT = "2026-01-10"


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """One night of two sites on a lakehouse."""
    made = Home(on_lakehouse(landed(tmp_path, 2), "catalog.ducklake"))
    for night in (made.landing / "shots").iterdir():
        if night.name != NIGHT:
            shutil.rmtree(night)
    return made


def test_a_site_that_another_worker_holds_is_left_to_it_and_the_others_are_published(home: Home) -> None:
    held = lease.held(home, load(home.path).lakehouse, lease.site("low"))
    with events_in_memory(), held:
        done = one_machine.run(home)
    assert done.outcome == one_machine.Outcome.PUBLISHED_WITH_WARNINGS
    (told,) = [line for line in done.warnings if line.startswith("site low was not brought in")]
    assert "another worker is at work on site low" in told
    there = {row[4] for row in rows(home.current)["core.shot"]}
    assert there == {"site-02"}


def test_a_site_that_fails_its_audit_commits_nothing(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    settings = load(home.path)
    sites.bring_in(home, settings, "site-02")
    check = Check("made to fail", "core.shot", BLOCKING, "a fault for the test", "select 'x' as example")
    with monkeypatch.context() as failing:
        failing.setattr(audit, "run", lambda connection, asked: [Fault(check, 1, "x")])
        with pytest.raises(sites.NotFit, match=r"site low: core\.shot: a fault for the test"):
            sites.bring_in(home, settings, "low")
    again = sites.bring_in(home, settings, "low")
    assert [night.isoformat() for night in again.built] == [NIGHT]
    assert [night.isoformat() for night in again.read] == [NIGHT]
