"""Made trials in a home of its own: planned, running, finished; lots drawn by the book, outcomes as drawn."""

from __future__ import annotations

import hashlib
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import NAMESPACE_OID, uuid5

import duckdb
import numpy as np
import polars as pl
from made_notebook import url
from made_tables import fill, student_id

from warehouse.notebook.store import current, open_store
from warehouse.trials import book
from warehouse.trials.plan import Plan

TODAY = date(2031, 4, 14)
BEGUN = date(2031, 3, 10)
BETTER_BY = 1.6
PLAN: dict[str, Any] = {
    "trial_id": "T1", "title": "Rod or <tee>, *which*?", "kind": "parallel", "horizon": "transfer",
    "treatments": ("R1", "R2"), "metric": "attack_angle", "measure": "centre", "club_group": "driver", "better": 1.0,
    "matters_from": 1.0, "students": 24, "episodes": 1, "weeks": 6.0, "gap_middle": 0.0,
}  # fmt: skip


def begun(home: Path, on: date = BEGUN, **changes: Any) -> Plan:
    """Begin a trial."""
    plan = Plan(**(PLAN | changes))
    store = open_store(url(home))
    # The same lots every time: of intervals that hold 95 of 100 times, one drawn anew would miss now and then.
    book.begin(
        store, home, plan, begun_on=on, by="director", known_secret=hashlib.sha256(plan.trial_id.encode()).digest()
    )
    store.close()
    return plan


def entered(home: Path, plan: Plan, numbers: range, on: date = BEGUN) -> dict[str, str]:
    """Let students agree, enter and draw them, all in one stratum; return what was drawn by student."""
    store = open_store(url(home))
    for n in numbers:
        student = student_id(n)
        for who in ("guardian", "student") if n == 0 else ("student",):
            book.agree(store, trial_id=plan.trial_id, student_id=student, agreed_by=who, agreed_on=on, by="coach",
                       today=TODAY)  # fmt: skip
        book.enter_and_draw(
            store, home, trial_id=plan.trial_id, student_id=student, site_id="SITE-A", starting_gap=1.0 + n % 3,
            minor=n == 0, consent=True, today=TODAY, on=on + timedelta(days=n % 5), by="coach",
            known_ids=tuple(str(uuid5(NAMESPACE_OID, f"{plan.trial_id} {student} {of}")) for of in ("entry", "lot")),
        )  # fmt: skip
    lots = current(store, "trial_lot").filter(pl.col("trial_id") == plan.trial_id)
    store.close()
    return dict(lots.select("student_id", "arm").iter_rows())


def declined(home: Path, plan: Plan, student: str, reason: str) -> None:
    """Let a student say no."""
    store = open_store(url(home))
    at = datetime(BEGUN.year, BEGUN.month, BEGUN.day, 10)
    book.decline(
        store, trial_id=plan.trial_id, student_id=student, declined_by="student", reason=reason, at=at, by="coach"
    )
    store.close()


def ended(home: Path, plan: Plan, on: date = TODAY) -> None:
    """End a trial."""
    store = open_store(url(home))
    assert book.end(store, home, trial_id=plan.trial_id, on=on, by="director", today=TODAY) == []
    store.close()


def done_as_drawn(home: Path, lots: dict[str, str]) -> None:
    """Publish one episode for each student drawn, of the drill drawn; the second drill does more by BETTER_BY."""
    rng = np.random.default_rng(3)
    day = BEGUN + timedelta(days=9)
    at = datetime(day.year, day.month, day.day, 11)
    zero = {name: 10 for name in ("drill_shots", "pre_struck", "pre_mishits", "post_struck", "post_mishits")}
    episodes, metrics = [], []
    for student, drill in [(one, part) for one, arm in sorted(lots.items()) for part in arm.split(" then ")]:
        key = f"trial-{student}-{drill}"
        before = float(rng.normal(0, 1))
        after = before + float(rng.normal(0, 0.3)) + (BETTER_BY if drill == "R2" else 0.0)
        episodes.append(
            {"episode_id": key, "kind": "drill", "drill_id": drill, "student_id": student, "session_id": key,
             "bay_id": "B01", "club": "driver", "club_group": "driver", "begins_at": at, "night": day, "week": day,
             "chosen_by": "draw", "coach_id": "C1", "end_assumed": False, "position": 1, "followed_by_drill": False}
            | zero
        )  # fmt: skip
        metrics.append(
            {"episode_id": key, "metric": "attack_angle", "pre_shots": 8, "pre_centre": before,
             "pre_variance": 0.2, "post_shots": 8, "post_centre": after, "post_variance": 0.2}
        )  # fmt: skip
    with duckdb.connect(str((home / "published" / "current.duckdb").resolve())) as connection:
        fill(connection, "core.drill_episode", episodes)
        fill(connection, "core.episode_metric", metrics)
