"""A home that an older version of the program built: the next night brings it to what a fresh build holds."""

from __future__ import annotations

import json
from pathlib import Path

import duckdb
import pytest

from tests.pipelines.killed_night import PUBLISHED, Undisturbed, content, leftovers, night
from warehouse.home import Home
from warehouse.publishing import manifest
from warehouse.schema.registry import TABLES

OF_AN_OLDER_VERSION = {
    "a column that came since": ("warehouse", "alter table core.shot drop column carry_gap", "core.shot"),
    "a column that is gone": ("warehouse", "alter table core.session add column mood varchar", "core.session"),
    "a column of another type": (
        "warehouse", "alter table mart.bay_offset alter ci_low type varchar", "mart.bay_offset"
    ),
    "columns in another order": (
        "warehouse",
        "create or replace table mart.student as select name, * exclude (name) from mart.student",
        "mart.student",
    ),
    "a table that is gone": ("warehouse", "create table mart.old_summary as select 1 as x", "mart.old_summary"),
    "a book of publications without warnings": (
        "warehouse", "alter table ops.publication drop column warnings", "ops.publication"
    ),
    "shots without air": ("raw", "alter table shot drop column air_temperature", None),
    "exports without their size": ("raw", "alter table export_file drop column size_bytes", None),
    "lessons without coaches": ("raw", "alter table lesson drop column coach_id", None),
}  # fmt: skip


def older(home: Path) -> int:
    """Make of a home's private databases what an older version left; return how many publications it noted."""
    for database, change, _ in OF_AN_OLDER_VERSION.values():
        with duckdb.connect(home / "warehouse" / f"{database}.duckdb") as opened:
            opened.execute(change)
    with duckdb.connect(home / "warehouse" / "warehouse.duckdb", read_only=True) as opened:
        return opened.execute("select count(*) from ops.publication").fetchone()[0]


@pytest.fixture
def upgraded(home: Path) -> tuple[Path, int, str]:
    """Take such a home through its next night."""
    noted = older(home)
    done = night(home)
    assert done.outcome in PUBLISHED, done.message
    return home, noted, "\n".join(done.steps)


def test_the_next_night_equals_a_fresh_build_keeps_its_history_and_says_what_it_made_again(
    upgraded: tuple[Path, int, str], undisturbed: Undisturbed
) -> None:
    home, noted, steps = upgraded
    published = home / "published" / "current.duckdb"
    assert content(published) == undisturbed.after
    assert leftovers(home) == []
    with duckdb.connect(published.resolve(), read_only=True) as opened:
        assert opened.execute("select count(*) from ops.publication").fetchone() == (noted + 1,)
        held = {name: types for name, types in opened.execute(
            "select schema_name || '.' || table_name, list((column_name, data_type) order by column_index) "
            "from duckdb_columns() where not internal group by all"
        ).fetchall()}  # fmt: skip
        (warnings,) = opened.execute(
            "select warnings from ops.publication order by published_at desc limit 1"
        ).fetchone()
    assert held == {name: [(c.name, c.type) for c in table.columns] for name, table in TABLES.items()}
    (told,) = [line for line in warnings.splitlines() if line.startswith("another version of the program made")]
    assert all(table in told for _, _, table in OF_AN_OLDER_VERSION.values() if table)
    assert "another version made raw.shot" in steps and "read again from the landing folder" in steps
    log = [json.loads(line) for line in (home / "warehouse" / "log" / "academy.jsonl").read_text().splitlines()]
    again = [table for line in log if line["event"] == "tables of another version" for table in line["tables"]]
    assert {"raw.lesson", "raw.export_file", "core.shot", "mart.old_summary"} <= set(again)


def test_the_night_after_finds_nothing_of_another_version(upgraded: tuple[Path, int, str]) -> None:
    done = night(upgraded[0])
    assert done.outcome in PUBLISHED, done.message
    published = upgraded[0] / "published" / "current.duckdb"
    with duckdb.connect(published.resolve(), read_only=True) as opened:
        warnings, built = opened.execute(
            "select warnings, nights_built from ops.publication order by published_at desc limit 1"
        ).fetchone()
    assert "another version" not in warnings and built == 0


def test_an_older_published_file_gives_its_history_where_the_private_one_is_broken(
    home: Path, undisturbed: Undisturbed
) -> None:
    version = (home / "published" / "current.duckdb").resolve()
    with manifest.still_signed(Home(home), version), duckdb.connect(version) as opened:
        opened.execute("alter table ops.publication drop column episodes")
        opened.execute("alter table ops.publication add column mood varchar")
    (home / "warehouse" / "warehouse.duckdb").write_bytes(b"\x00" * 9000)
    done = night(home)
    assert done.outcome in PUBLISHED, done.message
    assert content(home / "published" / "current.duckdb") == undisturbed.after
    with duckdb.connect((home / "published" / "current.duckdb").resolve(), read_only=True) as opened:
        assert opened.execute("select count(*), count(episodes) from ops.publication").fetchone() == (2, 1)
