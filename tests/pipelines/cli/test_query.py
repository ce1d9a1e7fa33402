"""`academy sql` writes all rows, says a cut and ends with 3, and reads the version that is good."""

from __future__ import annotations

import os
from pathlib import Path

import duckdb
import polars as pl
import pytest
from typer.testing import CliRunner

from pipelines.command_line import app
from warehouse.home import Home
from warehouse.publishing import manifest


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """A home with two signed versions of one table."""
    made = Home(tmp_path / "home")
    made.published.mkdir(parents=True)
    for night, rows in (("2026-03-01", 11_000), ("2026-03-02", 12_000)):
        version = made.published / f"{night}_{night.replace('-', '')}T030000000000.duckdb"
        with duckdb.connect(version) as con:
            con.execute("create schema mart")
            con.execute(f"create table mart.shot as select i from range({rows}) as r(i)")
        manifest.sign(made, version, {})
    made.current.symlink_to(version.name)
    return made


def asked(home: Home, *options: str):
    """Run the command."""
    return CliRunner().invoke(app, ["sql", "select i from mart.shot order by i", "--home", str(home.path), *options])


def test_exports_are_whole(home: Home, tmp_path: Path) -> None:
    done = asked(home, "--csv")
    assert done.exit_code == 0 and done.stdout.count("\n") == 12_001
    done = asked(home, "--parquet", str(tmp_path / "out.parquet"))
    assert done.exit_code == 0 and pl.read_parquet(tmp_path / "out.parquet").height == 12_000
    assert sorted(path.name for path in tmp_path.iterdir()) == ["home", "out.parquet"]


def test_a_cut_is_said_and_ends_with_3(home: Home, tmp_path: Path) -> None:
    (home.path / "academy.toml").write_text("[exports]\nrows = 10500\n")
    for options in (["--csv"], ["--json"], ["--parquet", str(tmp_path / "out.parquet")]):
        done = asked(home, *options)
        assert done.exit_code == 3
        assert "10,500 rows were written and there are more" in done.stderr
    assert pl.read_parquet(tmp_path / "out.parquet").height == 10_500


def test_two_forms_at_once_and_a_file_that_cannot_be_written_are_refused(home: Home, tmp_path: Path) -> None:
    assert asked(home, "--csv", "--json").exit_code == 2
    done = asked(home, "--parquet", str(tmp_path / "nowhere" / "out.parquet"))
    assert done.exit_code == 2 and "cannot be written" in done.stderr


def test_a_damaged_file_is_said_and_the_last_good_one_is_asked(home: Home) -> None:
    os.truncate(home.current.resolve(), 5000)
    done = asked(home, "--csv")
    assert done.exit_code == 0 and done.stdout.count("\n") == 11_001
    assert "is damaged" in done.stderr and "2026-03-01" in done.stderr
    for version in home.published.glob("2*.duckdb"):
        os.truncate(version, 100)
    done = asked(home, "--csv")
    assert done.exit_code == 2 and "no older one is good" in done.stderr
