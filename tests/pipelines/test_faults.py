"""A full disk, a home that cannot be written, two nights at once, a reader who stays: what is published stays good."""

from __future__ import annotations

import json
import os
import resource
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import duckdb
import pytest

from tests.pipelines.killed_night import PUBLISHED, NightProcess, Undisturbed, content, leftovers, night
from warehouse.connection import open_published
from warehouse.home import Home

NOT_PUBLISHED = 2
NOBODY = 65534
WRITTEN_IN = ("warehouse/dagster", "warehouse", "published", ".")
SMALL_FILE = 1_500_000
"""Bytes: less than the private database holds, more than settings and logs need."""
ROOM_LEFT = 2_000_000
"""Bytes left on the full disk: the night begins, and its databases do not fit."""


def small_files_only(_home: Path) -> None:
    """Let this process write no file beyond a size, as if the disk were full."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (SMALL_FILE, resource.RLIM_INFINITY))


def without_rights(home: Path) -> None:
    """Take from this process the right to write in the home; root has it whatever a folder says."""
    if os.geteuid() == 0:
        os.setgid(NOBODY)
        os.setuid(NOBODY)
        return
    for path in WRITTEN_IN:
        (home / path).chmod(0o500)


def stays_good(home: Path, undisturbed: Undisturbed, prepare: Callable[[Path], None] | None = None) -> str:
    """Run a night that cannot publish: it says so, the last good file stays; return what it says."""
    done = night(home, prepare)
    assert done.outcome == NOT_PUBLISHED, done.message
    assert content(home / "published" / "current.duckdb") == undisturbed.before
    return done.message


def comes_through(home: Path, undisturbed: Undisturbed) -> None:
    """The next night publishes what an undisturbed one did and clears what was left."""
    done = night(home)
    assert done.outcome in PUBLISHED, done.message
    assert content(home / "published" / "current.duckdb") == undisturbed.after
    assert leftovers(home) == []


def test_a_night_that_may_not_write_large_files_publishes_nothing_and_the_next_one_does(
    home: Path, undisturbed: Undisturbed
) -> None:
    assert "cannot be written" in stays_good(home, undisturbed, small_files_only)
    comes_through(home, undisturbed)


@pytest.fixture
def small_disk(undisturbed: Undisturbed, tmp_path: Path) -> Iterator[Path]:
    """Return a copy of the home on a disk with little room, where this machine lets a test mount one."""
    size = sum(path.stat().st_size for path in undisturbed.waiting.rglob("*") if path.is_file())
    mount = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size + 4 * ROOM_LEFT}", "none", str(tmp_path)],
        capture_output=True, check=False,
    )  # fmt: skip
    mounted = mount.returncode == 0
    copied = Path(shutil.copytree(undisturbed.waiting, tmp_path / "home", symlinks=True))
    yield copied
    if mounted:
        subprocess.run(["umount", "--lazy", str(tmp_path)], check=True)


def fill(disk: Path, left: int) -> Path:
    """Write a file that leaves this much room on the disk."""
    free = shutil.disk_usage(disk).free
    filler = disk / "filler"
    with filler.open("wb") as file:
        os.posix_fallocate(file.fileno(), 0, max(free - left, 1))
    return filler


def test_a_night_on_a_full_disk_publishes_nothing_and_the_next_one_with_room_does(
    small_disk: Path, undisturbed: Undisturbed
) -> None:
    if not os.path.ismount(small_disk.parent):
        stays_good(small_disk, undisturbed, small_files_only)
        return
    filler = fill(small_disk.parent, ROOM_LEFT)
    said = stays_good(small_disk, undisturbed)
    assert "No space left" in said or "disk is full" in said or "disk I/O error" in said
    assert json.loads(Home(small_disk).last_run.read_bytes())["outcome"] == "not published"
    filler.unlink()
    filler = fill(small_disk.parent, 0)
    stays_good(small_disk, undisturbed)
    assert json.loads(Home(small_disk).last_run.read_bytes())["outcome"] == "not published"
    filler.unlink()
    subprocess.run(["mount", "-o", "remount,size=200m", str(small_disk.parent)], check=True)
    comes_through(small_disk, undisturbed)


@pytest.fixture
def open_home(undisturbed: Undisturbed) -> Iterator[Path]:
    """Return a copy of the home in a folder that every user of the machine can read."""
    with tempfile.TemporaryDirectory() as folder:
        Path(folder).chmod(0o755)
        copied = Path(shutil.copytree(undisturbed.waiting, Path(folder) / "home", symlinks=True))
        copied.chmod(0o755)  # a copy takes the mode of its original, which may be the owner's alone
        yield copied


def test_a_home_that_cannot_be_written_is_said_in_words_and_kept(open_home: Path, undisturbed: Undisturbed) -> None:
    said = stays_good(open_home, undisturbed, without_rights)
    assert "cannot be written" in said
    assert "Permission denied" in said
    for path in WRITTEN_IN:
        (open_home / path).chmod(0o755)


def test_of_two_nights_at_once_the_second_says_so_and_a_reader_who_stays_keeps_what_was_opened(
    home: Path, undisturbed: Undisturbed
) -> None:
    count = "select count(*), sum(hash(shot)) from core.shot as shot"
    with open_published(Home(home).current) as reader:
        before = reader.execute(count).fetchone()
        first = NightProcess(home, halt=3)
        assert first.until(3)
        second = night(home)
        assert second.outcome == NOT_PUBLISHED
        assert "another run is at work" in second.message
        assert first.let_on().finish().outcome in PUBLISHED, first.message
        assert reader.execute(count).fetchone() == before
    assert content(home / "published" / "current.duckdb") == undisturbed.after


def test_a_private_database_that_is_broken_is_set_aside_and_built_again(home: Path, undisturbed: Undisturbed) -> None:
    database = home / "warehouse" / "warehouse.duckdb"
    held = bytearray(database.read_bytes())
    held[:8192] = b"\x00" * 8192
    database.write_bytes(held)
    with duckdb.connect(home / "published" / "current.duckdb", read_only=True) as opened:
        publications = opened.execute("select count(*) from ops.publication").fetchone()
    comes_through(home, undisturbed)
    with duckdb.connect((home / "published" / "current.duckdb").resolve(), read_only=True) as opened:
        assert opened.execute("select count(*) from ops.publication").fetchone() == (publications[0] + 1,)
