"""Nothing lost and nothing half done, whenever a night is killed.

The long run, which tells at which steps the kills came: NIGHT_KILLS=100 pytest -rP tests/pipelines/test_kill.py
"""

from __future__ import annotations

import os
import random
import shutil
import time
from collections import Counter
from pathlib import Path

import pytest

from tests.pipelines.killed_night import PUBLISHED, NightProcess, Undisturbed, content, leftovers, night

KILLS = int(os.environ.get("NIGHT_KILLS", "10"))
SEED = 20260106
KILLS_A_HOME = 10
"""Kills one upon another before a night is let through: later ones begin with what earlier ones left."""
LONGEST_WAIT = 0.4
"""Seconds that a kill may come after the step it waits for; most steps are shorter."""


def whole_nights(home: Path, undisturbed: Undisturbed) -> None:
    """Every published file is the last good one or the complete new one, and `current` is one of them."""
    current = (home / "published" / "current.duckdb").resolve(strict=True)
    versions = {path.resolve() for path in (home / "published").glob("*.duckdb")}
    assert current in versions
    for version in versions:
        assert content(version) in (undisturbed.before, undisturbed.after)


def comes_through(home: Path, undisturbed: Undisturbed) -> None:
    """The next night publishes what an undisturbed one did, row for row, and clears what was left."""
    done = night(home)
    assert done.outcome in PUBLISHED, done.message
    assert content(home / "published" / "current.duckdb") == undisturbed.after
    assert leftovers(home) == []


@pytest.mark.parametrize("round_number", range(-(-KILLS // KILLS_A_HOME)))
def test_a_night_killed_at_any_moment_leaves_whole_files_and_the_next_ends_as_if_undisturbed(
    round_number: int, home: Path, undisturbed: Undisturbed
) -> None:
    draws = random.Random(SEED + round_number)
    killed: Counter[str] = Counter()
    tries = 0
    while killed.total() < KILLS_A_HOME and tries < 3 * KILLS_A_HOME:
        tries += 1
        at_work = NightProcess(home)
        at_work.until(draws.randrange(undisturbed.steps + 1))
        time.sleep(draws.random() * LONGEST_WAIT)
        if at_work.kill():
            killed[at_work.steps[-1] if at_work.steps else "before its first step"] += 1
        whole_nights(home, undisturbed)
    print(f"{killed.total()} killed:", "; ".join(f"{step} {count}" for step, count in killed.items()))
    assert killed.total() == KILLS_A_HOME, f"{tries} nights, and only {killed.total()} kills came before a night's end"
    comes_through(home, undisturbed)


def test_a_night_killed_while_it_publishes_leaves_whole_files(home: Path, undisturbed: Undisturbed) -> None:
    draws = random.Random(SEED)
    at_work = NightProcess(home)
    while at_work.until(len(at_work.steps) + 1) and at_work.steps[-1] != "publishing":
        pass
    time.sleep(draws.random() * LONGEST_WAIT / 10)
    at_work.kill()
    whole_nights(home, undisturbed)
    comes_through(home, undisturbed)


def test_the_first_night_of_all_killed_half_way_leaves_nothing_current(
    tmp_path: Path, undisturbed: Undisturbed
) -> None:
    shutil.copytree(undisturbed.waiting / "landing", tmp_path / "landing")
    half = undisturbed.steps // 2
    at_work = NightProcess(tmp_path, halt=half)
    assert at_work.until(half)
    assert at_work.kill()
    assert not (tmp_path / "published" / "current.duckdb").exists()
    comes_through(tmp_path, undisturbed)
