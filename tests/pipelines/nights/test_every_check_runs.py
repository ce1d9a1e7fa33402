"""Every declared check is run by some step of a night, and those of a run's own books stop it too."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import duckdb
import pytest

from pipelines.graph import step_costs
from pipelines.graph.asset_checks import books
from pipelines.runs import one_machine
from tests.pipelines.killed_night import PUBLISHED
from tests.pipelines.nights.conftest import Term, copied
from warehouse.audit import audit
from warehouse.publishing import publish
from warehouse.schema.registry import TABLES

pytestmark = pytest.mark.usefixtures("in_memory")


def test_every_declared_check_is_run_by_some_step_once(
    term: Term, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: Counter[str] = Counter()
    run = audit.run

    def counted(connection: duckdb.DuckDBPyConnection, checks: tuple[audit.Check, ...]) -> list[audit.Fault]:
        asked.update(f"{check.table}: {check.name}" for check in checks)
        return run(connection, checks)

    monkeypatch.setattr(audit, "run", counted)
    done = one_machine.run(copied(term.home, tmp_path / "home"))
    assert done.outcome in PUBLISHED, done.message
    assert asked == Counter(f"{check.table}: {check.name}" for check in audit.checks())
    assert {check.table for check in audit.checks()} == set(TABLES)


SPOILED = {
    "ops.run_step": (step_costs, "record", "insert into ops.run_step select * from ops.run_step limit 1"),
    "ops.publication": (publish, "stamp", "update ops.publication set shots = -1 where published_at = "
                        "(select max(published_at) from ops.publication)"),
}  # fmt: skip


@pytest.mark.parametrize("table", SPOILED)
def test_a_fault_in_what_a_run_writes_down_of_itself_stops_it(
    table: str, term: Term, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home = copied(term.home, tmp_path / "home")
    before, (module, name, spoil) = home.current.resolve(), SPOILED[table]
    write = getattr(module, name)

    def spoiled(*given):
        made = write(*given)
        next(one for one in given if isinstance(one, duckdb.DuckDBPyConnection)).execute(spoil)
        return made

    with monkeypatch.context() as broken:
        broken.setattr(module, name, spoiled)
        done = one_machine.run(home)
    assert done.outcome == one_machine.Outcome.NOT_PUBLISHED
    assert f"the audit stopped it: {table}" in done.message
    assert home.current.resolve() == before
    assert one_machine.run(home).outcome in PUBLISHED


def test_books_are_the_tables_that_no_model_makes() -> None:
    assert set(books()) == {"ops.publication", "ops.night", "ops.check_result", "ops.run_step", "ops.current_through"}
