"""Homes for whole nights: the sample academy taken through a term of nights once, and small copies of it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import dagster as dg
import duckdb
import pytest

from demo_data.generate import SAMPLE_FOLDER, deliver_late
from pipelines.runs import one_machine
from warehouse.home import Home

FIRST_NIGHTS = ("2026-01-05", "2026-01-06", "2026-01-07", "2026-01-08")
SPOILED = "2026-01-07/04.parquet"
Rows = dict[str, list[tuple]]


@contextmanager
def events_in_memory() -> Iterator[None]:
    """Keep Dagster's events in memory: most of a small night is otherwise its event log's disk."""
    get = dg.DagsterInstance.get
    dg.DagsterInstance.get = staticmethod(dg.DagsterInstance.ephemeral)
    try:
        yield
    finally:
        dg.DagsterInstance.get = get


@pytest.fixture
def in_memory() -> Iterator[None]:
    """Keep Dagster's events of one test in memory."""
    with events_in_memory():
        yield


@pytest.fixture(autouse=True, scope="session")
def environment_as_it_was() -> Iterator[None]:
    """Put $DAGSTER_HOME, which a run sets, back."""
    before = os.environ.get("DAGSTER_HOME")
    yield
    os.environ.pop("DAGSTER_HOME", None)
    if before is not None:
        os.environ["DAGSTER_HOME"] = before


def copied(home: Home, target: Path) -> Home:
    """Copy a home, links as links, times kept."""
    shutil.copytree(home.path, target, symlinks=True)
    return Home(target)


def rows(path: Path, schemas: tuple[str, ...] = ("core", "mart")) -> Rows:
    """Return every row of every table, sorted."""
    with duckdb.connect(path.resolve(), read_only=True) as opened:
        tables = opened.execute(
            "select schema_name || '.' || table_name from duckdb_tables() where list_contains($1, schema_name)",
            [list(schemas)],
        ).fetchall()
        return {name: sorted(opened.execute(f"from {name}").fetchall(), key=repr) for (name,) in tables}


def differing(one: Rows, other: Rows) -> dict[str, tuple[list[tuple], list[tuple]]]:
    """Return table -> rows of one and not the other, and the reverse; tables that agree left out."""
    assert one.keys() == other.keys()
    found = {}
    for name in one:
        ours, theirs = set(map(repr, one[name])), set(map(repr, other[name]))
        if ours != theirs or len(one[name]) != len(other[name]):
            found[name] = (sorted(ours - theirs)[:3], sorted(theirs - ours)[:3])
    return found


@dataclass
class Term:
    """The sample academy's home, what each night came to, and the file each published."""

    home: Home
    nights: list[one_machine.Night] = field(default_factory=list)
    files: list[Path] = field(default_factory=list)

    def run(self, **options) -> None:
        """Run a night and keep what came of it."""
        self.nights.append(one_machine.run(self.home, **options))
        self.files.append(self.home.current.resolve())

    def ask(self, night: int, sql: str) -> list[tuple]:
        """Ask the file that a night published."""
        with duckdb.connect(self.files[night], read_only=True) as opened:
            return opened.execute(sql).fetchall()


@pytest.fixture(scope="session")
def term(tmp_path_factory: pytest.TempPathFactory) -> Term:
    """The sample academy, run night by night.

    Night 0: the first four nights as they first landed, one compression cut short, one file empty. Night 1: three
    more nights, what came late by then, and an empty second export in place of a good one. Night 2: that one good
    again, and all that came late. Night 3: nothing new.
    """
    home = Home(tmp_path_factory.mktemp("term") / "home")
    landing, sample = home.landing, SAMPLE_FOLDER / "landing"
    for part in ("academy", "profiles", *(f"shots/{night}" for night in FIRST_NIGHTS)):
        shutil.copytree(sample / part, landing / part)
    shutil.copytree(SAMPLE_FOLDER / "landing_late", home.path / "landing_late")
    told = Term(home)
    told.run()
    with events_in_memory():
        for night in sorted((sample / "shots").iterdir()):
            if night.name not in FIRST_NIGHTS:
                shutil.copytree(night, landing / "shots" / night.name)
        deliver_late(landing, through="2026-01-07")
        (landing / "shots" / SPOILED).write_bytes(b"")
        told.run()
        shutil.copyfile(sample / "shots" / SPOILED, landing / "shots" / SPOILED)
        deliver_late(landing)
        told.run()
        told.run()
    return told


@pytest.fixture(scope="session")
def rebuilt(term: Term, tmp_path_factory: pytest.TempPathFactory) -> Term:
    """A copy of that home, in another place, rebuilt from its landing folder."""
    told = Term(copied(term.home, tmp_path_factory.mktemp("rebuilt") / "elsewhere"))
    with events_in_memory():
        told.run(rebuild=True)
    return told
