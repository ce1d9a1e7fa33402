"""Nights that do not publish: the old file stays, the reason is said, and a second try does not slip through."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from demo_data.generate import SAMPLE_FOLDER
from pipelines.runs import one_machine
from pipelines.runs.one_machine import Outcome
from tests.pipelines.nights.conftest import Term, copied
from warehouse.connection import only_run
from warehouse.home import Home


@pytest.fixture
def landed(tmp_path: Path) -> Home:
    """A home with reference tables and profiles and no night yet."""
    home = Home(tmp_path / "home")
    for part in ("academy", "profiles"):
        shutil.copytree(SAMPLE_FOLDER / "landing" / part, home.landing / part)
    return home


def reword(path: Path, old: str, new: str) -> None:
    """Replace words in a file."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_a_night_that_fails_its_audit_leaves_the_last_good_file_and_fails_again(term, tmp_path, in_memory) -> None:
    home = copied(term.home, tmp_path / "home")
    before, versions = home.current.resolve(), sorted(home.published.glob("*.duckdb"))
    content = before.read_bytes()
    with duckdb.connect(home.private / "raw.duckdb") as raw:
        raw.execute("delete from shot where path = '2026-01-06/06.csv' and line < 10")
    with duckdb.connect(home.private / "warehouse.duckdb") as private:
        private.execute("delete from ops.night where night = '2026-01-06'")
    for _ in range(2):
        night = one_machine.run(home)
        assert night.outcome == Outcome.NOT_PUBLISHED
        assert "every loaded row of a night built, of a bay in bays.csv, is one core.shot" in night.message
        assert "2026-01-06" in night.message
        assert (home.current.resolve(), before.read_bytes() == content) == (before, True)
        assert sorted(home.published.glob("*.duckdb")) == versions
        told = json.loads(home.last_run.read_text())
        assert (told["outcome"], told["message"]) == ("not published", night.message)


def test_a_second_run_at_once_ends_with_a_sentence_and_touches_nothing(landed: Home) -> None:
    with only_run(landed):
        night = one_machine.run(landed)
    assert night.outcome == Outcome.NOT_PUBLISHED
    assert "another run is at work in" in night.message
    assert not landed.published.exists()


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("[episodes]\nsplit_form = 7\n", "episodes.split_form"),
        ("[matters]\nattack = 1\n", "'attack' is not a metric"),
        ("[academy]\ntimezone = 'Mars/Olympus'\n", "academy.timezone"),
        ("[academy\n", "academy.toml cannot be read"),
    ],
)
def test_a_wrong_setting_is_named_and_nothing_is_published(landed: Home, text: str, named: str) -> None:
    (landed.path / "academy.toml").write_text(text)
    night = one_machine.run(landed)
    assert night.outcome == Outcome.NOT_PUBLISHED
    assert named in night.message
    assert json.loads(landed.last_run.read_text())["message"] == night.message


@pytest.mark.parametrize("fault", [ZeroDivisionError(), KeyboardInterrupt()])
def test_whatever_ends_a_run_the_pages_are_told(
    landed: Home, monkeypatch: pytest.MonkeyPatch, fault: BaseException
) -> None:
    name = (landed.landing / "academy" / "students.csv").read_text().splitlines()[1].split(",")[1]
    if isinstance(fault, ZeroDivisionError):
        fault = ZeroDivisionError(f"{name} is nowhere")

    def ends(*_: object) -> None:
        raise fault

    monkeypatch.setattr(one_machine, "by_settings", ends)
    with pytest.raises(type(fault)):
        one_machine.run(landed)
    told = json.loads(landed.last_run.read_text())
    assert told["outcome"] == "not published"
    assert "unexpected error" in told["message"] or "stopped" in told["message"]
    assert name not in told["message"]


def test_a_missing_required_column_names_table_file_and_column(landed: Home, in_memory) -> None:
    reword(landed.landing / "academy" / "students.csv", "handed", "side")
    night = one_machine.run(landed)
    assert night.outcome == Outcome.NOT_PUBLISHED
    assert "students.csv" in night.message
    assert "handed" in night.message
    assert not landed.current.exists()


@pytest.mark.parametrize(("table", "column"), [("sites", "timezone"), ("bays", "export_profile")])
def test_a_missing_column_of_sites_or_bays_is_named_too(landed: Home, in_memory, table: str, column: str) -> None:
    reword(landed.landing / "academy" / f"{table}.csv", column, "something")
    shutil.copytree(SAMPLE_FOLDER / "landing" / "shots" / "2026-01-05", landed.landing / "shots" / "2026-01-05")
    night = one_machine.run(landed)
    assert night.outcome == Outcome.NOT_PUBLISHED
    assert f"{table}.csv" in night.message
    assert column in night.message


def test_a_home_without_landing_says_what_to_do(tmp_path: Path) -> None:
    night = one_machine.run(Home(tmp_path))
    assert night.outcome == Outcome.NOT_PUBLISHED
    assert "academy start --home" in night.message


def test_the_command_ends_with_the_outcomes_code_and_its_reason_last(landed: Home) -> None:
    (landed.path / "academy.toml").write_text("[publishing]\nkeep = 3\n")
    ended = subprocess.run(
        [sys.executable, "-m", "pipelines", "nightly", "--home", landed.path],
        capture_output=True, text=True, check=False, env={**os.environ, "ACADEMY_HOME": "/nowhere"},
    )  # fmt: skip
    assert ended.returncode == 2
    assert ended.stderr.strip().splitlines()[-1].startswith("academy.toml: publishing.keep:")


def test_the_term_is_untouched_by_the_copies_made_of_it(term: Term) -> None:
    assert term.home.current.resolve() == term.files[-1]
