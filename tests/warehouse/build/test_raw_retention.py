"""Raw shots of old nights go, what was made of them stays, and a night that changes is read again first."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import duckdb
import pytest

from pipelines.runs import one_machine
from pipelines.runs.one_machine import Outcome
from warehouse.home import Home

SAMPLE = Path(__file__).parents[3] / "demo_data" / "sample"
PUBLISHED = (Outcome.PUBLISHED, Outcome.PUBLISHED_WITH_WARNINGS)
FIRST = date(2026, 1, 5)
Shots = Callable[[Home], list[tuple]]


def ask(path: Path, query: str) -> list[tuple]:
    with duckdb.connect(path.resolve(), read_only=True) as opened:
        return opened.execute(query).fetchall()


def shots(home: Home) -> list[tuple]:
    return ask(home.current, "select * from core.shot order by path, line")


def raw_nights(home: Home) -> list[tuple]:
    return ask(home.private / "raw.duckdb", "select distinct night from shot order by night")


@pytest.fixture(scope="module")
def trimmed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Home, list[tuple]]:
    """Return a home that keeps two nights of raw shots, published once, and its shots when all were kept."""
    home = Home(tmp_path_factory.mktemp("retention") / "home")
    shutil.copytree(SAMPLE / "landing", home.landing)
    assert one_machine.run(home).outcome in PUBLISHED
    whole = shots(home)
    (home.path / "academy.toml").write_text("[retention]\nraw_nights = 2\n")
    assert one_machine.run(home).outcome in PUBLISHED
    return home, whole


@pytest.fixture
def home(trimmed: tuple[Home, list[tuple]], tmp_path: Path) -> Home:
    """Return a copy of the trimmed home."""
    return Home(Path(shutil.copytree(trimmed[0].path, tmp_path / "home", symlinks=True)))


def test_only_the_latest_nights_keep_raw_shots_and_core_keeps_all(trimmed: tuple[Home, list[tuple]]) -> None:
    home, whole = trimmed
    assert raw_nights(home) == [(date(2026, 1, 10),), (date(2026, 1, 11),)]
    assert shots(home) == whole


def test_a_run_with_nothing_new_builds_no_trimmed_night_again(home: Home) -> None:
    assert one_machine.run(home).outcome in PUBLISHED
    built = ask(home.current, "select nights_built from ops.publication order by published_at desc limit 1")
    assert built == [(0,)]
    assert len(ask(home.current, "select night from ops.night")) == 7


def test_a_corrected_lesson_of_a_trimmed_night_is_built_from_its_exports_read_again(
    home: Home, trimmed: tuple[Home, list[tuple]]
) -> None:
    lessons = home.landing / "academy" / "lessons.csv"
    lines = lessons.read_text().splitlines(keepends=True)
    gone = next(at for at, line in enumerate(lines) if "2026-01-05T" in line)
    lesson_id = lines[gone].split(",")[0]
    lessons.write_text("".join([*lines[:gone], *lines[gone + 1 :]]))
    log = home.landing / "academy" / "drill_log.csv"
    log.write_text("".join(line for line in log.read_text().splitlines(True) if not line.startswith(lesson_id + ",")))
    assert one_machine.run(home).outcome in PUBLISHED
    assert not ask(home.current, f"select 1 from core.shot where lesson_id = '{lesson_id}'")
    places = "select path, line from core.shot order by all"
    assert ask(home.current, places) == ask(trimmed[0].current, places)
    assert (FIRST,) not in raw_nights(home)


def test_a_late_file_for_a_trimmed_night_keeps_the_other_bays(home: Home) -> None:
    before = ask(home.current, f"select bay_id, count(*) from core.shot where night = '{FIRST}' group by all")
    path = home.landing / "shots" / FIRST.isoformat() / "02.tsv"
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:-3]))
    assert one_machine.run(home).outcome in PUBLISHED
    after = dict(ask(home.current, f"select bay_id, count(*) from core.shot where night = '{FIRST}' group by all"))
    assert after.pop("02") < dict(before)["02"]
    assert after == {bay: count for bay, count in before if bay != "02"}


def test_where_landing_no_longer_holds_a_night_it_stays_as_built_and_is_warned_of(home: Home) -> None:
    before = shots(home)
    shutil.rmtree(home.landing / "shots" / FIRST.isoformat())
    (home.path / "academy.toml").write_text("[retention]\nraw_nights = 2\n[episodes]\nmishit_share = 0.61\n")
    done = one_machine.run(home)
    assert done.outcome in PUBLISHED, done.message
    assert any(f"{FIRST} changed" in warning and "stays as it was built" in warning for warning in done.warnings)
    first = [row for row in before if row[0] == FIRST]
    assert first and [row for row in shots(home) if row[0] == FIRST] == first


def test_a_rebuild_takes_what_landing_holds(home: Home, trimmed: tuple[Home, list[tuple]]) -> None:
    shutil.rmtree(home.landing / "shots" / FIRST.isoformat())
    assert one_machine.run(home, rebuild=True).outcome in PUBLISHED
    assert {row[0] for row in shots(home)} == {row[0] for row in trimmed[1]} - {FIRST}
