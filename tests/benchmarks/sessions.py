"""Fifty sessions read while three publications happen: `python -m tests.benchmarks.sessions --home DIR`.

The dashboard runs as its own process on this machine only. Fifty sessions stand open over Streamlit's own websocket,
as browsers hold them; each opens a page, then reads on, page after page, with a reader's pause between. Meanwhile the
published file is swung three times, as `academy nightly` does it (`swing` and `prune` of
warehouse/publishing/publish.py). The home is
copied first, and each version says in its own publication row and in mart.student which it is, so that a page that
mixed two nights would be seen. It ends by itself after the last version has been read by every session.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import duckdb
import numpy as np

from tests.benchmarks.reader import Reader
from warehouse.home import Home
from warehouse.publishing.publish import prune, swing

ROOT = Path(__file__).parents[2]
PAGES = ("students", "drills", "week", "bays", "cohorts")
KEPT = 2
FIRST = datetime(2032, 1, 1)
PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")
MEGABYTE = 1_000_000


@dataclass
class Seen:
    """What the sessions saw.

    Attributes
    ----------
    runs, seconds
        Pages read, and how long each took.
    faults
        Error boxes, runs that did not end, pages that named two versions or none.
    behind
        Pages begun after a swing that still showed an older version.
    latest
        Session -> newest version it has read.
    """

    runs: int = 0
    seconds: list[float] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    behind: int = 0
    latest: dict[int, int] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)


def version(source: Path, home: Home, number: int) -> Path:
    """Write a version that names its number on every page: as its publication's moment, and in every student's name."""
    path = home.published / f"night_{number:03d}.duckdb"
    incoming = path.with_suffix(".incoming")
    shutil.copyfile(source, incoming)
    with duckdb.connect(str(incoming)) as file:
        file.execute("update ops.publication set published_at = ?", [FIRST + timedelta(days=number)])
        file.execute("update mart.student set name = 'Version ' || ? where name is not null", [number])
    os.replace(incoming, path)
    return path


def named(texts: list[str]) -> set[int]:
    """Return the versions that a page names."""
    marks = {}
    for number in range(10):
        day = FIRST + timedelta(days=number)
        marks[number] = (f"published {day:%d %B %Y}", f"Version {number}")
    return {number for number, texts_of in marks.items() if any(mark in text for text in texts for mark in texts_of)}


def read(address: str, number: int, current: list[int], seen: Seen, stop: threading.Event, pause: float) -> None:
    """Read page after page in one session until told to stop."""
    with Reader(address) as reader:
        turn = number
        while not stop.is_set():
            due = current[0]
            run = reader.open(PAGES[turn % len(PAGES)])
            turn += 1
            shown = named(run.texts)
            with seen.lock:
                seen.runs += 1
                seen.seconds.append(run.seconds)
                if run.exceptions or not run.finished or len(shown) != 1:
                    seen.faults.append(f"session {number}: {run.exceptions}, finished {run.finished}, versions {shown}")
                elif min(shown) < due:
                    seen.behind += 1
                if shown:
                    seen.latest[number] = max(seen.latest.get(number, 0), *shown)
            stop.wait(pause)


def resident(process: subprocess.Popen[bytes]) -> int:
    """Return a process's resident memory in bytes."""
    return int(Path(f"/proc/{process.pid}/statm").read_text().split()[1]) * PAGE_BYTES


def held(process: subprocess.Popen[bytes]) -> list[str]:
    """Return the published versions that a process holds open, those already removed too."""
    found = []
    for handle in Path(f"/proc/{process.pid}/fd").iterdir():
        try:
            target = os.readlink(handle)
        except OSError:
            continue
        if "night_" in target and ".duckdb" in target:
            found.append(Path(target).name)
    return sorted(set(found))


def measure(source: Path, sessions: int, pause: float, address_and_process: tuple[str, subprocess.Popen[bytes]],
            home: Home, wait: float) -> Seen:  # fmt: skip
    """Open the sessions, swing three times, and stop once each session has read the last version."""
    address, process = address_and_process
    current, seen, stop = [0], Seen(), threading.Event()
    before = resident(process)
    threads = [
        threading.Thread(target=read, args=(address, number, current, seen, stop, pause), daemon=True)
        for number in range(sessions)
    ]
    for thread in threads:
        thread.start()
    until = time.monotonic() + wait
    try:
        for number in (1, 2, 3):
            while len(seen.latest) < sessions or min(seen.latest.values()) < number - 1:
                if time.monotonic() > until or seen.faults:
                    break
                time.sleep(0.1)
            made = version(source, home, number)
            swing(home, made)
            current[0] = number
            prune(home, KEPT)
        while min(seen.latest.values(), default=0) < 3 and time.monotonic() < until and not seen.faults:
            time.sleep(0.1)
        told = (before, resident(process), held(process))
    finally:
        stop.set()
        for thread in threads:
            thread.join(timeout=130)
    wall = np.array(seen.seconds)
    print(
        f"{sessions} sessions, {seen.runs} pages read while 3 publications happened: {len(seen.faults)} faults, "
        f"{seen.behind} pages behind the newest; every session read version {min(seen.latest.values(), default=-1)}\n"
        f"a page took p50 {np.quantile(wall, 0.5):.2f} s, p95 {np.quantile(wall, 0.95):.2f} s with all at once\n"
        f"server memory {told[0] / MEGABYTE:.0f} MB before, {told[1] / MEGABYTE:.0f} MB after; "
        f"versions held open: {told[2]}"
    )
    return seen


def prepared(source_home: Path, folder: Path) -> tuple[Home, Path]:
    """Return a home of its own with version 0 published, and the file that versions are made from."""
    home = Home(folder / "home")
    home.published.mkdir(parents=True)
    settings = source_home / "academy.toml"
    if settings.exists():
        shutil.copy(settings, home.path / "academy.toml")
    source = folder / "source.duckdb"
    shutil.copyfile((source_home / "published" / "current.duckdb").resolve(), source)
    swing(home, version(source, home, 0))
    return home, source


def main() -> int:
    """Measure on a copy of the home named; return 1 if anything was wrong."""
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--home", type=Path, required=True, help="a home with a published file; copied")
    arguments.add_argument("--sessions", type=int, default=50)
    arguments.add_argument("--pause", type=float, default=1.0, help="seconds that a reader reads before the next page")
    arguments.add_argument("--wait", type=float, default=480.0, help="seconds after which it gives up")
    asked = arguments.parse_args()
    sys.path.insert(0, str(ROOT / "tests" / "dashboard"))
    import browsing

    with tempfile.TemporaryDirectory(prefix="sessions-") as temporary:
        home, source = prepared(asked.home, Path(temporary))
        port = browsing.free_port()
        process = browsing.start(home.path, port)
        try:
            served = (f"http://localhost:{port}", process)
            seen = measure(source, asked.sessions, asked.pause, served, home, asked.wait)
        finally:
            browsing.end(process)
    for fault in seen.faults[:10]:
        print(fault)
    done = not seen.faults and seen.behind == 0 and min(seen.latest.values(), default=0) == 3
    return 0 if done else 1


if __name__ == "__main__":
    sys.exit(main())
