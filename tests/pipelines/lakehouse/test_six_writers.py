"""Six sites brought in at once, one worker killed, PostgreSQL ended and started: no row lost, none doubled.

LAKE_ROUNDS=20 for the long run: other moments in every round.
"""

from __future__ import annotations

import os
import random
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import dagster as dg
import duckdb
import pytest

from pipelines.lakehouse import definitions
from pipelines.runs import lakehouse
from tests.pipelines.killed_night import PUBLISHED, night
from tests.pipelines.lakehouse.conftest import landed, on_lakehouse, without_names
from tests.pipelines.lakehouse.site_worker import SiteWorker
from tests.pipelines.nights.conftest import Rows, rows
from tests.postgres_server import PostgresServer
from warehouse.home import Home
from warehouse.lakehouse import sites
from warehouse.lakehouse.attachment import NAME, Lake
from warehouse.settings.settings import load

ROUNDS = int(os.environ.get("LAKE_ROUNDS", "1"))
SEED = 20260107
AWAY_SECONDS = 1.5
"""How long the catalog is away."""
LONGEST_WAIT = 0.5
"""Seconds that a kill or an end of the server may come after the commit it waits for has begun."""


@pytest.fixture(scope="module")
def one_file(tmp_path_factory: pytest.TempPathFactory) -> Rows:
    """What one machine publishes from the same landing folder."""
    home = landed(tmp_path_factory.mktemp("one-file"))
    done = night(home)
    assert done.outcome in PUBLISHED, done.message
    return rows(home / "published" / "current.duckdb", ("core", "mart", "ops"))


@contextmanager
def opened(home: Path) -> Iterator[Lake]:
    """Attach a home's lakehouse."""
    with duckdb.connect() as connection:
        connection.execute("set timezone = 'UTC'")
        yield Lake.open(connection, Home(home), load(home))


def publish(home: Path) -> lakehouse.Night:
    """Publish what the sites committed, Dagster's events in memory."""
    place, settings = Home(home), load(home)
    with dg.DagsterInstance.ephemeral() as instance:
        return lakehouse.publish(place, definitions.definitions(place, settings), instance, [])


def same(one: list[tuple], other: list[tuple]) -> bool:
    """Return whether two tables hold the same rows; zero is zero, whatever its sign."""
    return len(one) == len(other) and set(one) == set(other)


def unhashable_as_text(found: Rows) -> Rows:
    """Return rows that can be put in a set."""
    return {name: [tuple(str(v) if isinstance(v, list | dict) else v for v in row) for row in table]
            for name, table in found.items()}  # fmt: skip


@pytest.mark.parametrize("round_number", range(ROUNDS))
def test_six_writers_with_one_killed_and_the_catalog_restarted_lose_and_double_nothing(
    round_number: int, tmp_path: Path, postgres: PostgresServer, one_file: Rows
) -> None:
    home = on_lakehouse(landed(tmp_path), postgres.url, f"writers_{round_number}")
    draws = random.Random(SEED + round_number)
    names = list(sites.sites(home / "landing"))
    workers = {name: SiteWorker(home, name) for name in names}
    victim, witness = draws.sample(names, 2)
    assert workers[victim].until("committing")
    time.sleep(draws.random() * LONGEST_WAIT)
    killed = workers[victim].kill()
    workers[witness].until("committing")
    time.sleep(draws.random() * LONGEST_WAIT)
    postgres.stop()
    time.sleep(AWAY_SECONDS)
    postgres.start()
    ended = [workers[name].finish() for name in names if name != victim]
    again = SiteWorker(home, victim).finish()
    assert [worker.fault for worker in (*ended, again) if worker.fault] == []
    assert all(worker.repeated is not None for worker in (*ended, again))
    assert killed or workers[victim].finish().repeated is not None

    done = publish(home)
    assert done.outcome in PUBLISHED, done.message
    published = unhashable_as_text(rows(home / "published" / "current.duckdb"))
    expected = unhashable_as_text({name: table for name, table in one_file.items() if not name.startswith("ops.")})
    assert published.keys() == expected.keys()
    assert [name for name in expected if not same(published[name], expected[name])] == []
    with opened(home) as lake:
        whole_on_the_lakehouse(lake, expected, one_file)


def whole_on_the_lakehouse(lake: Lake, expected: Rows, one_file: Rows) -> None:
    """The lakehouse itself holds the same core and mart, and of every export exactly the rows that were loaded."""
    for name, table in expected.items():
        held = unhashable_as_text({name: lake.read(f"select * from {NAME}.{name}")})
        assert same(held[name], without_names({name: table})[name]), name
    loaded = lake.read(f"select path, count(*), count(distinct line) from {NAME}.raw.shot group by path")
    files = {row[2]: row[7] for row in one_file["ops.export_file"] if row[4] == "loaded" and row[7]}
    assert {path: (shots, shots) for path, shots in files.items()} == {row[0]: row[1:] for row in loaded}
