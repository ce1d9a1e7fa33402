"""The notebook's file: two writers, a kill, older and newer versions, and a reading that never writes."""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from datetime import datetime
from pathlib import Path

import pytest

from tests.clock import PATIENCE
from warehouse.notebook import actions
from warehouse.notebook.reading import read_entries
from warehouse.notebook.store import NotebookRefused, correct, current, history, open_store, withdraw
from warehouse.notebook.tables import TABLES, frame_schema

TEN = datetime(2024, 5, 6, 10, 0)

WRITER = """
import sys
from datetime import datetime
from warehouse.notebook import actions
from warehouse.notebook.store import correct, open_store
store = open_store(sys.argv[1])
for number in range(int(sys.argv[3])):
    entry = actions.begin_drill(store, drill_id=sys.argv[2] + str(number), lesson_id="L", by=sys.argv[2],
                                starts_at=datetime(2024, 5, 6, 10))
    correct(store, "drill_entry", entry, sys.argv[2], ends_at=datetime(2024, 5, 6, 11))
    print(entry, flush=True)
"""
HALF_WAY = """
import sys, time
from datetime import datetime
from warehouse.notebook.store import _row, open_store
from warehouse.notebook.tables import TABLES
store = open_store(sys.argv[1])
with store.engine.begin() as connection:
    own = {"student_id": "S", "drill_id": "half", "kind": "pain", "at": datetime(2024, 5, 6)}
    connection.execute(TABLES["stop_entry"].insert().values(_row("e", "e", None, "c", own)))
    print("in the middle", flush=True)
    time.sleep(600)
"""


def started(program: str, *arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen([sys.executable, "-c", program, *arguments], stdout=subprocess.PIPE, text=True)


def url_of(path: Path) -> str:
    return f"sqlite:///{path}"


def stop(store, drill: str) -> str:
    return actions.record_stop(store, student_id="S", drill_id=drill, kind="rebound", at=TEN, by="coach")


def test_two_processes_that_open_and_write_at_once_lose_and_double_nothing(tmp_path: Path) -> None:
    url = url_of(tmp_path / "new" / "notebook.sqlite")
    writers = [started(WRITER, url, name, "40") for name in ("a", "b")]
    printed = [line for writer in writers for line in writer.communicate(timeout=PATIENCE)[0].split()]
    assert [writer.returncode for writer in writers] == [0, 0]
    entries = read_entries(url)["drill_entry"]
    assert set(entries["first_entry_id"]) == set(printed) and entries.height == len(printed) == 80
    assert entries["ends_at"].null_count() == 0


def test_threads_that_correct_one_entry_at_once_make_one_chain(tmp_path: Path) -> None:
    store = open_store(url_of(tmp_path / "notebook.sqlite"))
    first = actions.begin_drill(store, drill_id="D", lesson_id="L", starts_at=TEN, by="coach")
    tap = [threading.Thread(target=correct, args=(store, "drill_entry", first, f"tablet {n}")) for n in range(12)]
    for thread in tap:
        thread.start()
    for thread in tap:
        thread.join()
    entries = history(store, "drill_entry")
    assert entries.height == 13 and entries["corrects"].drop_nulls().n_unique() == 12
    assert current(store, "drill_entry").height == 1


def test_a_process_killed_in_the_middle_of_an_entry_leaves_none_of_it(tmp_path: Path) -> None:
    url = url_of(tmp_path / "notebook.sqlite")
    store = open_store(url)
    stop(store, "before")
    child = started(HALF_WAY, url)
    assert child.stdout is not None and child.stdout.readline() == "in the middle\n"
    assert read_entries(url)["stop_entry"]["drill_id"].to_list() == ["before"]  # a reader is not held up meanwhile
    child.send_signal(signal.SIGKILL)
    child.wait()
    stop(store, "after")
    assert current(store, "stop_entry")["drill_id"].to_list() == ["before", "after"]
    store.close()
    with sqlite3.connect(tmp_path / "notebook.sqlite") as connection:
        assert connection.execute("pragma integrity_check").fetchone() == ("ok",)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_a_killed_process_said_was_entered_is_there(tmp_path: Path, seed: int) -> None:
    url = url_of(tmp_path / "notebook.sqlite")
    child = started(WRITER, url, "k", "100000")
    assert child.stdout is not None
    said = [child.stdout.readline().strip()]
    time.sleep(random.Random(seed).uniform(0.05, 0.3))
    child.send_signal(signal.SIGKILL)
    said += [line for line in child.stdout.read().split("\n") if len(line) == 36]
    child.wait()
    entries = read_entries(url)["drill_entry"]
    assert set(said) <= set(entries["first_entry_id"]) and entries.height - len(said) <= 1
    assert set(entries["drill_id"]) == {f"k{number}" for number in range(entries.height)}


def test_a_notebook_that_is_not_there_reads_as_empty_and_is_not_made(tmp_path: Path) -> None:
    read = read_entries(url_of(tmp_path / "nowhere" / "notebook.sqlite"))
    assert set(read) == set(TABLES) and all(frame.is_empty() for frame in read.values())
    assert list(tmp_path.iterdir()) == []
    shown = [name for name in frame_schema(TABLES["goal"]) if name not in ("number", "withdrawn")]
    assert read["goal"].columns == shown


def test_the_nights_reading_gives_what_stands_and_changes_no_byte(tmp_path: Path) -> None:
    path = tmp_path / "notebook.sqlite"
    store = open_store(url_of(path))
    for drill in ("a", "b", "c"):
        last = stop(store, drill)
    withdraw(store, "stop_entry", last, "coach")
    store.close()
    before = path.read_bytes()
    read = read_entries(url_of(path))
    assert read["stop_entry"].equals(current(open_store(url_of(path)), "stop_entry"))
    assert read["stop_entry"]["drill_id"].to_list() == ["a", "b"] and path.read_bytes() == before


def test_the_nights_reading_cannot_write(tmp_path: Path) -> None:
    path = tmp_path / "notebook.sqlite"
    open_store(url_of(path)).close()
    from warehouse.notebook.reading import _read_only_sqlite

    with _read_only_sqlite(path).connect() as connection, pytest.raises(Exception, match="readonly"):
        connection.exec_driver_sql("create table x (a)")


def test_an_entry_made_while_the_night_reads_is_not_half_seen(tmp_path: Path) -> None:
    url = url_of(tmp_path / "notebook.sqlite")
    store = open_store(url)
    stop(store, "a")
    done = threading.Event()

    def write() -> None:
        for number in range(60):
            stop(store, str(number))
        done.set()

    writer = threading.Thread(target=write)
    writer.start()
    heights = []
    while not done.is_set():
        heights.append(read_entries(url)["stop_entry"].height)
    writer.join()
    assert heights == sorted(heights) and read_entries(url)["stop_entry"].height == 61


def test_an_older_notebook_is_brought_up_to_date_with_its_entries(tmp_path: Path) -> None:
    path = tmp_path / "notebook.sqlite"
    store = open_store(url_of(path))
    stop(store, "a")
    actions.mark(store, bay_id="B", kind="coach hitting", starts_at=TEN, by="c")
    store.close()
    with sqlite3.connect(path) as connection:  # as a version before these existed would have left it
        connection.execute("alter table set_aside drop column moved_to_bay_id")
        connection.execute("drop table hold")
    old = read_entries(url_of(path))
    assert old["hold"].is_empty() and old["set_aside"]["moved_to_bay_id"].to_list() == [None]
    store = open_store(url_of(path))
    actions.mark(store, bay_id="B", kind="moved to bay", starts_at=TEN, moved_to_bay_id="B2", by="c")
    assert current(store, "set_aside")["moved_to_bay_id"].to_list() == [None, "B2"]
    assert current(store, "hold").is_empty() and current(store, "stop_entry").height == 1


def test_a_newer_notebook_is_refused_with_a_sentence(tmp_path: Path) -> None:
    path = tmp_path / "notebook.sqlite"
    open_store(url_of(path)).close()
    with sqlite3.connect(path) as connection:
        connection.execute("insert into notebook_schema values (99)")
    with pytest.raises(NotebookRefused, match=r"version 99, newer than this program; update the program\."):
        open_store(url_of(path))


def test_a_reader_without_rights_on_the_folder_still_reads() -> None:
    with tempfile.TemporaryDirectory() as folder:
        url = url_of(Path(folder) / "notebook.sqlite")
        store = open_store(url)
        stop(store, "a")
        store.close()
        os.chmod(folder, 0o555)
        # Read once with rights, so that everything is imported; the superuser's rights go only with the user.
        program = f"""
import os, pathlib, warehouse.notebook.reading as reading
reading.read_entries({url!r})
os.getuid() or os.setuid(65534)
try:
    pathlib.Path({folder!r}, "mine").touch()
except PermissionError:
    print(reading.read_entries({url!r})["stop_entry"]["drill_id"].to_list())
"""
        read = subprocess.run([sys.executable, "-B", "-c", program], capture_output=True, text=True, check=False)
        os.chmod(folder, 0o755)
    assert read.stdout == "['a']\n", read.stderr
