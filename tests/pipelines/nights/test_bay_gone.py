"""A bay taken out of bays.csv is left out with a warning, and is whole again once it is put back."""

from __future__ import annotations

from pathlib import Path

import duckdb

from pipelines.runs import one_machine
from pipelines.runs.one_machine import Outcome
from tests.pipelines.nights.conftest import Term, copied, differing, rows

GONE = "06"


def count(home, sql: str) -> int:
    """Ask what is published for a count."""
    with duckdb.connect(home.current.resolve(), read_only=True) as opened:
        return opened.execute(sql).fetchone()[0]


def test_a_bay_gone_is_published_without_and_put_back_is_as_before(term: Term, tmp_path: Path, in_memory) -> None:
    home = copied(term.home, tmp_path / "home")
    table = home.landing / "academy" / "bays.csv"
    whole = table.read_text(encoding="utf-8")
    without = [line for line in whole.splitlines(keepends=True) if not line.startswith(f"{GONE},")]
    assert len(without) == len(whole.splitlines()) - 1
    assert count(home, f"select count(*) from core.shot where bay_id = '{GONE}'") > 0
    lessons = home.landing / "academy" / "lessons.csv"
    booked = lessons.read_text(encoding="utf-8")
    lessons.write_text("".join(row for row in booked.splitlines(keepends=True) if f",{GONE}," not in row))
    table.write_text("".join(without), encoding="utf-8")
    told = one_machine.run(home)
    assert told.outcome == Outcome.PUBLISHED_WITH_WARNINGS, told.message
    one = [warning for warning in told.warnings if warning.startswith("shots/") and f"bay '{GONE}' is not" in warning]
    assert len(one) == 1
    assert " more refused: " in one[0]
    assert any("its shots are left out" in warning and f"{GONE}, " in warning for warning in told.warnings)
    assert count(home, f"select count(*) from core.shot where bay_id = '{GONE}'") == 0
    refused = f"select count(*) from ops.export_file where bay_id = '{GONE}' and status = 'refused'"
    assert count(home, refused) > 0
    table.write_text(whole, encoding="utf-8")
    lessons.write_text(booked, encoding="utf-8")
    assert one_machine.run(home).outcome in (Outcome.PUBLISHED, Outcome.PUBLISHED_WITH_WARNINGS)
    assert differing(rows(home.current), rows(term.home.current)) == {}
