"""A child that waits runs the next query and no other; one that is gone is not waited for."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import duckdb
import pytest

from warehouse.query import guard, worker_process


@pytest.fixture
def published(tmp_path: Path) -> Path:
    """Return a small published file."""
    with duckdb.connect(str(tmp_path / "current.duckdb")) as connection:
        connection.execute("create schema mart")
        connection.execute("create table mart.thing as select 7 as id")
    return tmp_path / "current.duckdb"


@pytest.fixture(autouse=True)
def nobody_waits() -> Iterator[None]:
    """Begin and end without a child."""
    worker_process.none_waits()
    yield
    worker_process.none_waits()


def started(monkeypatch: pytest.MonkeyPatch) -> list[worker_process.Child]:
    """Return the list of children started from here on."""
    children: list[worker_process.Child] = []
    true_start = worker_process.start

    def watched() -> worker_process.Child:
        children.append(true_start())
        return children[-1]

    monkeypatch.setattr(worker_process, "start", watched)
    return children


def answered(published: Path) -> list[int]:
    """Ask for the one row."""
    return guard.run(published, "select id from mart.thing").frame["id"].to_list()


def test_the_child_that_waits_runs_the_next_query_and_is_gone(published: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    children = started(monkeypatch)
    worker_process.make_ready()
    worker_process.make_ready()
    (waiting,) = children
    assert waiting.process.poll() is None
    assert answered(published) == [7]
    assert len(children) == 1
    assert waiting.process.returncode == 0
    assert not Path(waiting.folder.name).exists()
    assert answered(published) == [7]
    assert len(children) == 2


def test_a_child_that_ended_while_it_waited_is_replaced(published: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    children = started(monkeypatch)
    worker_process.make_ready()
    children[0].process.kill()
    children[0].process.wait()
    assert answered(published) == [7]
    assert [child.process.returncode for child in children] == [-9, 0]
    assert not Path(children[0].folder.name).exists()


def test_a_child_that_waited_is_confined_as_any_other(published: Path) -> None:
    worker_process.make_ready()
    with pytest.raises(guard.QueryRefused, match="cannot be used here"):
        guard.run(published, "select getenv('HOME')")
    worker_process.make_ready()
    with pytest.raises(guard.QueryRefused, match=r"ran longer than 0\.3 s"):
        guard.run(published, "select sum(a.range * b.range) from range(1000000) a, range(1000000) b", seconds=0.3)


def test_nobody_waits_once_it_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    children = started(monkeypatch)
    worker_process.make_ready()
    worker_process.none_waits()
    assert children[0].process.returncode is not None
    assert not Path(children[0].folder.name).exists()
