"""During the day: a bay's partial file is published with its sessions and blocks, and the night after is as any other.

One home lives through a day on which a partial file lands and is published; its twin only through the night.
"""

from __future__ import annotations

import json
from pathlib import Path

import dagster as dg
import duckdb
import pytest

from demo_data.generate import SAMPLE_FOLDER
from pipelines.definitions import definitions
from pipelines.graph import same_day_job
from pipelines.graph.schedules_and_sensors import folder_state
from pipelines.runs import one_machine
from pipelines.runs.one_machine import Outcome
from tests.pipelines.nights.conftest import Rows, Term, copied, differing, events_in_memory, rows
from warehouse.build import freshness
from warehouse.home import Home
from warehouse.settings.settings import load

DAY, FILE = "2026-01-11", "2026-01-11/01.csv"
PUBLISHED = (Outcome.PUBLISHED, Outcome.PUBLISHED_WITH_WARNINGS)
EVIDENCE = ("mart.drill_effect", "mart.bay_offset", "mart.student_change", "mart.cohort_change", "core.bay_epoch",
            "core.episode_metric", "mart.attention")  # fmt: skip


def land(home: Home, share: float) -> int:
    """Put the first part of a bay's export of the day into the landing folder; return its lines of shots."""
    whole = (SAMPLE_FOLDER / "landing" / "shots" / FILE).read_bytes().splitlines(keepends=True)
    kept = whole[: max(int(len(whole) * share), 20)]
    (home.landing / "shots" / FILE).write_bytes(b"".join(kept))
    return len(kept)


def ask(home: Home, sql: str) -> list[tuple]:
    """Ask what is published."""
    with duckdb.connect(home.current.resolve(), read_only=True) as opened:
        return opened.execute(sql).fetchall()


@pytest.fixture(scope="module")
def lived(term: Term, tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Home, Rows]]:
    """Return homes and rows: before the file landed, by day with part of it, after the night, and its twin's night."""
    folder = tmp_path_factory.mktemp("day")
    home = copied(term.home, folder / "home")
    (home.landing / "shots" / FILE).unlink()
    found: dict[str, tuple[Home, Rows]] = {}
    with events_in_memory():
        # As it was in the morning: built from a landing folder that does not hold the file yet.
        assert one_machine.run(home, rebuild=True).outcome in PUBLISHED
        found["morning"] = (copied(home, folder / "morning"), rows(home.current))
        land(home, 0.5)
        told = one_machine.run(home, by_day=True)
        assert told.outcome in PUBLISHED, told.message
        found["day"] = (copied(home, folder / "by_day"), rows(home.current))
        land(home, 1.0)
        assert one_machine.run(home).outcome in PUBLISHED
        found["night"] = (home, rows(home.current))
        twin = copied(found["morning"][0], folder / "twin")
        land(twin, 1.0)
        assert one_machine.run(twin).outcome in PUBLISHED
        found["twin"] = (twin, rows(twin.current))
    return found


def test_a_partial_file_that_landed_by_day_is_published_in_sessions_and_blocks(lived) -> None:
    asked = f"select count(*) from core.shot where path = '{FILE}'"
    shots = [ask(lived[when][0], asked)[0][0] for when in ("morning", "day", "night")]
    assert shots[0] == 0
    assert 0 < shots[1] < shots[2]
    sessions = f"select count(*) from core.first_block where night = '{DAY}' and bay_id = '01'"
    blocks = [ask(lived[when][0], sessions)[0][0] for when in ("morning", "day", "night")]
    assert blocks[0] == 0
    assert 0 < blocks[1] <= blocks[2]


def test_by_day_the_evidence_is_that_of_the_last_night(lived) -> None:
    morning, day = lived["morning"][1], lived["day"][1]
    for table in EVIDENCE:
        assert day[table] == morning[table], table
    assert day["core.shot"] != morning["core.shot"]


def test_the_night_after_equals_one_without_the_day(lived) -> None:
    assert differing(lived["night"][1], lived["twin"][1]) == {}


def test_the_published_file_says_through_when_each_part_is_current(lived) -> None:
    asked = "select part, made_at from ops.current_through order by made_at, part"
    assert [part for part, _ in ask(lived["day"][0], asked)] == [freshness.EVIDENCE, freshness.BLOCKS]
    (one, two) = (made_at for _, made_at in ask(lived["night"][0], asked))
    assert one == two


def test_where_the_evidence_was_not_published_whole_a_run_by_day_makes_all_of_it(lived, in_memory, tmp_path) -> None:
    home = copied(lived["morning"][0], tmp_path / "home")
    with duckdb.connect(home.private / "warehouse.duckdb") as opened:
        freshness.unsettle(opened)
    assert not freshness.settled_in(home)
    land(home, 1.0)
    assert one_machine.run(home, by_day=True).outcome in PUBLISHED
    assert differing(rows(home.current), lived["twin"][1]) == {}
    assert freshness.settled_in(home)


def test_the_days_job_refuses_to_carry_over_evidence_that_is_not_whole(lived, in_memory, tmp_path) -> None:
    home = copied(lived["morning"][0], tmp_path / "home")
    with duckdb.connect(home.private / "warehouse.duckdb") as opened:
        freshness.unsettle(opened)
    before = home.current.resolve()
    ended = one_machine.execute(home, (one_machine.nights_landed(home, load(home.path))[-1],) * 2, same_day_job.JOB)
    assert ended.outcome == Outcome.NOT_PUBLISHED
    assert same_day_job.NOT_SETTLED in ended.message
    assert home.current.resolve() == before


def test_the_sensor_asks_for_the_days_job_and_for_the_night_where_there_is_nothing_to_carry_over(
    lived, in_memory, tmp_path: Path
) -> None:
    home = copied(lived["morning"][0], tmp_path / "home")
    seen = {night.isoformat(): folder_state(home, night) for night in one_machine.nights_landed(home, load(home.path))}
    land(home, 0.5)

    def asked() -> dg.RunRequest:
        made = definitions(home)
        sensor = next(one for one in made.sensors if one.name == "late_or_changed_files")
        context = dg.build_sensor_context(cursor=json.dumps(seen), definitions=made)
        (request,) = sensor.evaluate_tick(context).run_requests
        return request

    assert asked().job_name == same_day_job.JOB
    with duckdb.connect(home.private / "warehouse.duckdb") as opened:
        freshness.unsettle(opened)
    assert asked().job_name == one_machine.NIGHTLY
