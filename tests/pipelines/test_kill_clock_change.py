"""Nights on which the clocks change, killed and repeated: skipped and doubled hours come out the same each time."""

from __future__ import annotations

import os
import random
import shutil
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import duckdb
import pytest

from tests.pipelines.killed_night import PUBLISHED, Content, NightProcess, content, leftovers, night
from tests.pipelines.nights.test_small_academies import PROFILE, TABLES, write

KILLS = max(3, int(os.environ.get("NIGHT_KILLS", "0")) // 5)
LISBON = ZoneInfo("Europe/Lisbon")
CHANGES = {"2026-03-29": datetime(2026, 3, 29, 1, tzinfo=UTC), "2026-10-25": datetime(2026, 10, 25, 1, tzinfo=UTC)}
"""Night -> the moment at which Lisbon's clocks changed (IANA time zone database)."""
SHOTS = 90


def land(home: Path) -> None:
    """Let two bays hit every minute around both changes: one writes the site's local time, one UTC."""
    tables = TABLES | {
        "bays": TABLES["bays"] + "02,N,utc,indoor,range\n",
        "lessons": TABLES["lessons"] + "L3,007,,02,2026-10-24T23:30:00,2026-10-25T04:00:00\n",
    }
    for name, text in tables.items():
        write(home / "landing" / "academy" / f"{name}.csv", text)
    write(home / "landing" / "profiles" / "plain.toml", PROFILE)
    write(home / "landing" / "profiles" / "utc.toml", '[file]\ntimezone = "UTC"\n' + PROFILE)
    for name, change in CHANGES.items():
        moments = [change + timedelta(minutes=minute - SHOTS // 2) for minute in range(SHOTS)]
        for bay, zone, fast in (("01", LISBON, 60), ("02", UTC, 61)):
            lines = "".join(
                f"{moment.astimezone(zone).replace(tzinfo=None).isoformat()},driver,{fast + at / 100},12,{at % 5 - 2}\n"
                for at, moment in enumerate(moments)
            )
            write(home / "landing" / "shots" / name / f"{bay}.csv", "time,club,ball,launch,path\n" + lines)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Content, int]:
    """Return a landing folder, what an undisturbed run publishes of it, and in how many steps."""
    home = tmp_path_factory.mktemp("clocks") / "home"
    land(home)
    done = night(home)
    assert done.outcome in PUBLISHED, done.message
    return home, content(home / "published" / "current.duckdb"), len(done.steps)


def test_around_both_changes_no_shot_is_lost_and_utc_runs_on(whole: tuple[Path, Content, int]) -> None:
    with duckdb.connect((whole[0] / "published" / "current.duckdb").resolve(), read_only=True) as opened:
        counted = opened.execute("select bay_id, night::varchar, count(*) from core.shot group by all order by all")
        assert counted.fetchall() == [(bay, name, SHOTS) for bay in ("01", "02") for name in CHANGES]
        between = "struck_at - lag(struck_at) over (partition by night order by line)"
        gaps = opened.execute(f"select distinct {between} from core.shot where bay_id = '02' and line > 2").fetchall()
        assert set(gaps) <= {(timedelta(minutes=1),), (None,)}
        ahead = "select night::varchar, struck_at_local - struck_at, count(*) from core.shot where bay_id = '02' "
        assert sorted(opened.execute(f"{ahead} group by all").fetchall()) == [
            (name, timedelta(hours=hours), SHOTS // 2) for name in CHANGES for hours in (0, 1)
        ]


def test_killed_at_random_moments_and_repeated_they_end_as_if_undisturbed(
    whole: tuple[Path, Content, int], tmp_path: Path
) -> None:
    landed, undisturbed, steps = whole
    shutil.copytree(landed / "landing", tmp_path / "landing")
    draws, killed = random.Random(20261025), 0
    for _ in range(KILLS):
        at_work = NightProcess(tmp_path)
        at_work.until(draws.randrange(steps))
        time.sleep(draws.random() * 0.2)
        killed += at_work.kill()
        current = tmp_path / "published" / "current.duckdb"
        assert not current.exists() or content(current) == undisturbed
    assert killed
    for _ in range(2):
        done = night(tmp_path)
        assert done.outcome in PUBLISHED, done.message
        assert content(tmp_path / "published" / "current.duckdb") == undisturbed
    assert leftovers(tmp_path) == []
    with duckdb.connect((tmp_path / "published" / "current.duckdb").resolve(), read_only=True) as opened:
        (built,) = opened.execute(
            "select nights_built from ops.publication order by published_at desc limit 1"
        ).fetchone()
    assert built == 0, "the second run finds nothing to do"
