"""A backup is one moment of the notebook, whole or not there, and comes back as it was."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from warehouse.home import Home
from warehouse.notebook import store
from warehouse.publishing import backup
from warehouse.publishing.backup import BackupFault


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Return a home with a notebook, settings and a landing folder."""
    place = Home(tmp_path / "home")
    (place.landing / "academy").mkdir(parents=True)
    (place.landing / "academy" / "sites.csv").write_text("site_id\n")
    (place.path / "academy.toml").write_text('[academy]\nname = "Old"\n')
    with closing(sqlite3.connect(place.path / "notebook.sqlite")) as notebook:
        notebook.execute("pragma journal_mode = wal")
        notebook.execute("create table pair (a integer, b integer)")
    return place


def pairs(path: Path) -> list[tuple]:
    with closing(sqlite3.connect(path)) as notebook:
        return notebook.execute("select a, b from pair order by a").fetchall()


def write(home: Home, a: int, b: int) -> None:
    with closing(sqlite3.connect(home.path / "notebook.sqlite")) as notebook:
        notebook.execute("insert into pair values (?, ?)", (a, b))
        notebook.commit()


def test_what_was_written_and_not_yet_moved_out_of_the_log_is_in_the_backup(home: Home, tmp_path: Path) -> None:
    writing = sqlite3.connect(home.path / "notebook.sqlite")
    writing.execute("pragma wal_autocheckpoint = 0")
    writing.execute("insert into pair values (1, 1)")
    writing.commit()
    backup.back_up(home, tmp_path / "kept")
    assert pairs(tmp_path / "kept" / "notebook.sqlite") == [(1, 1)]
    writing.close()


def test_a_backup_made_while_people_write_is_of_one_moment(home: Home, tmp_path: Path) -> None:
    end = threading.Event()

    def keep_writing() -> None:
        with closing(sqlite3.connect(home.path / "notebook.sqlite", timeout=60)) as notebook:
            at = 0
            while not end.is_set():
                notebook.execute("begin immediate")
                notebook.executemany("insert into pair values (?, ?)", [(at, 0), (at, 1)])
                notebook.execute("commit")
                at += 1

    people = threading.Thread(target=keep_writing)
    people.start()
    try:
        for number in range(5):
            backup.back_up(home, tmp_path / f"kept{number}")
    finally:
        end.set()
        people.join()
    for number in range(5):
        found = pairs(tmp_path / f"kept{number}" / "notebook.sqlite")
        assert [b for _, b in found] == [0, 1] * (len(found) // 2)


def test_a_home_comes_back_as_it_was_and_what_replaced_it_is_kept_beside(home: Home, tmp_path: Path) -> None:
    write(home, 1, 1)
    said = backup.back_up(home, tmp_path / "kept", landing=True)
    assert backup.REBUILT in said
    write(home, 2, 2)
    (home.path / "academy.toml").write_text('[academy]\nname = "New"\n')
    with pytest.raises(BackupFault, match="already: give --replace"):
        backup.restore(home, tmp_path / "kept")
    assert pairs(home.path / "notebook.sqlite") == [(1, 1), (2, 2)]
    backup.restore(home, tmp_path / "kept", replace=True)
    assert pairs(home.path / "notebook.sqlite") == [(1, 1)]
    assert "Old" in (home.path / "academy.toml").read_text()
    (beside,) = home.path.glob("academy.toml.before-*")
    assert "New" in beside.read_text()
    (whole,) = home.path.glob("notebook.sqlite.before-*")
    assert pairs(whole) == [(1, 1), (2, 2)]


def test_a_backup_makes_a_home_where_there_is_none(home: Home, tmp_path: Path) -> None:
    write(home, 1, 1)
    backup.back_up(home, tmp_path / "kept", landing=True)
    other = Home(tmp_path / "elsewhere")
    backup.restore(other, tmp_path / "kept")
    assert pairs(other.path / "notebook.sqlite") == [(1, 1)]
    assert (other.landing / "academy" / "sites.csv").read_text() == "site_id\n"


def test_a_real_notebook_s_entries_come_back(home: Home, tmp_path: Path) -> None:
    (home.path / "notebook.sqlite").unlink()
    opened = store.open_store(home.notebook_url(""))
    before = store.history(opened, "goal")
    backup.back_up(home, tmp_path / "kept")
    backup.restore(Home(tmp_path / "other"), tmp_path / "kept")
    again = store.open_store(Home(tmp_path / "other").notebook_url(""))
    assert store.history(again, "goal").equals(before)
    opened.close()
    again.close()


@pytest.mark.parametrize("spoil", ["cut", "gone", "listed"])
def test_a_spoiled_backup_changes_nothing(home: Home, tmp_path: Path, spoil: str) -> None:
    backup.back_up(home, tmp_path / "kept")
    inside = tmp_path / "kept" / "academy.toml"
    if spoil == "cut":
        inside.write_text("[acad")
    elif spoil == "gone":
        inside.unlink()
    else:
        (tmp_path / "kept" / "backup.json").write_text('{"form": 1, "files": {"../../x": "0"}}')
    with pytest.raises(BackupFault, match=r"academy\.toml is missing or not as it was|has no place in a home"):
        backup.restore(home, tmp_path / "kept", replace=True)
    assert not list(home.path.glob("*before-*"))


def test_a_damaged_notebook_is_said_and_leaves_no_half_backup(home: Home, tmp_path: Path) -> None:
    (home.path / "notebook.sqlite").write_bytes(b"SQLite format 3\x00" + b"\x07" * 5000)
    for log in home.path.glob("notebook.sqlite-*"):
        log.unlink()
    with pytest.raises(BackupFault, match="notebook"):
        backup.back_up(home, tmp_path / "kept")
    assert [path.name for path in tmp_path.iterdir()] == ["home"]


def test_an_older_backup_is_never_written_over(home: Home, tmp_path: Path) -> None:
    backup.back_up(home, tmp_path / "kept")
    with pytest.raises(BackupFault, match="exists already"):
        backup.back_up(home, tmp_path / "kept")
