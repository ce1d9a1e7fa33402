"""The doctor: a sound home gives no fault, each thing spoiled gives its own line with a remedy, nothing is changed."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from pipelines.care import doctor
from pipelines.care.doctor import Level
from warehouse import connection
from warehouse.home import Home


def state(home: Path) -> dict[str, tuple[int, int]]:
    return {str(path): (path.lstat().st_size, path.lstat().st_mtime_ns) for path in home.rglob("*")}


def test_a_sound_home_has_no_fault_and_stays_as_it_is(undisturbed, home: Path) -> None:
    before = state(home)
    found = doctor.examine(Home(home))
    assert [str(one) for one in found if one.level is Level.FAULT] == []
    assert {"python", "duckdb", "disk", "clock", "profiles", "lock", "published"} <= {one.what for one in found}
    assert any("cannot be measured offline" in one.said for one in found)
    assert any(one.what == "log" and "academy.jsonl" in one.said for one in found)
    assert state(home) == before


def spoil_profile(home: Path) -> None:
    (next((home / "landing" / "profiles").glob("*.toml"))).write_text("name = ")


def remove_profile(home: Path) -> None:
    (next((home / "landing" / "profiles").glob("*.toml"))).unlink()


def spoil_table(home: Path) -> None:
    (home / "landing" / "academy" / "bays.csv").write_text("bay_id\n1\n")


def spoil_settings(home: Path) -> None:
    (home / "academy.toml").write_text("[academy]\ncolour = 1\n")


def spoil_private(home: Path) -> None:
    (home / "warehouse" / "raw.duckdb").write_bytes(b"\x00" * 20_000)


def spoil_published(home: Path) -> None:
    Path(os.path.realpath(home / "published" / "current.duckdb")).write_bytes(b"no database")


def turn_a_bit_of_published(home: Path) -> None:
    """Change a byte in the middle, that a database that is only opened would not notice."""
    path = Path(os.path.realpath(home / "published" / "current.duckdb"))
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


def spoil_notebook(home: Path) -> None:
    (home / "notebook.sqlite").write_bytes(b"SQLite format 3\x00" + b"\x07" * 5000)


def fail_a_run(home: Path) -> None:
    (home / "published" / "last_run.json").write_text('{"outcome": "not published", "message": "the audit stopped it"}')


@pytest.mark.parametrize(
    ("spoil", "what", "said"),
    [
        (spoil_profile, "profiles", "is not TOML"),
        (remove_profile, "profiles", "there is no profiles/"),
        (spoil_table, "tables", "bays.csv line 1, site_id: no such column"),
        (spoil_settings, "academy.toml", "academy.colour"),
        (spoil_private, "warehouse/raw.duckdb", "cannot be opened"),
        (spoil_published, "published", "cannot be opened"),
        (turn_a_bit_of_published, "published", "its content is not what was published"),
        (spoil_notebook, "notebook", "notebook"),
        (fail_a_run, "last run", "the audit stopped it"),
    ],
)
def test_each_thing_spoiled_is_a_fault_with_a_remedy(
    undisturbed, home: Path, spoil: Callable[[Path], None], what: str, said: str
) -> None:
    spoil(home)
    found = doctor.examine(Home(home))
    faults = [one for one in found if one.level is Level.FAULT]
    assert {one.what for one in faults} == {what}
    assert any(said in str(one) for one in faults)
    assert all(one.remedy or one.what == "tables" for one in faults)
    assert doctor.worst(found) == 2


def test_an_older_version_that_is_damaged_is_a_warning(undisturbed, home: Path) -> None:
    current = Path(os.path.realpath(home / "published" / "current.duckdb"))
    older = current.with_name("2020-01-01_20200102T000000000000.duckdb")
    older.write_bytes(b"half")
    told = [one for one in doctor.examine(Home(home)) if one.what == "published" and one.level is not Level.OK]
    assert [(one.level, older.name in one.said) for one in told] == [(Level.WARNING, True)]


def test_leftovers_and_a_late_publication_are_warnings(undisturbed, home: Path) -> None:
    (home / "published" / "x.incoming").write_bytes(b"")
    night = next((home / "landing" / "shots").iterdir())
    (night / "05.csv.part").write_bytes(b"")
    found = [one for one in doctor.examine(Home(home)) if one.what == "leftovers"]
    assert [one.level for one in found] == [Level.WARNING, Level.WARNING]


def test_a_run_at_work_is_named_by_its_process(undisturbed, home: Path) -> None:
    with connection.only_run(Home(home)):
        found = {one.what: one for one in doctor.examine(Home(home))}
    assert found["lock"].level is Level.WARNING
    assert f"process {os.getpid()}" in found["lock"].said or "process unknown" in found["lock"].said


def test_the_command_ends_with_the_worst_finding(undisturbed, home: Path) -> None:
    spoil_settings(home)
    done = subprocess.run(
        [sys.executable, "-m", "pipelines", "doctor", "--home", str(home)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 2, done.stderr
    assert "fault   academy.toml: " in done.stdout


def test_an_empty_folder_is_told_what_to_do(tmp_path: Path) -> None:
    found = doctor.examine(Home(tmp_path / "none"))
    assert any("academy start" in one.remedy for one in found if one.level is Level.FAULT)
