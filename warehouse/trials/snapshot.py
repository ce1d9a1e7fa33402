"""A finished trial, frozen: the rows its result was read from, the result and its looks, with a hash over all of it.

Taken once, when the trial ends; its report is read from here ever after. Students stand by the number of their entry,
so that the result outlives who is forgotten. Not here: how outcomes are read (outcomes.py), the report (reports.py).
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import date
from typing import Any

import duckdb
import polars as pl

from warehouse.domain.trials.consort_flow import FLOW
from warehouse.domain.trials.estimate import PARTICIPANT, PERIOD, RESULT
from warehouse.notebook.store import NotebookRefused, Store, current, enter
from warehouse.notebook.trial_tables import SNAPSHOT
from warehouse.trials import gates, outcomes
from warehouse.trials.book import trial
from warehouse.trials.plan import Plan

LOOK = {"on_date": pl.Date, "arm": pl.String, "information": pl.Float64, "decision": pl.String}


@dataclass(frozen=True)
class Snapshot:
    """`participants` (PARTICIPANT or PERIOD, students by entry), `result`, `flow`, `looks`; `through_night` that was
    read; `content_hash` over all; `intact` whether the content still has it; `entry_by_student` who is who today."""

    participants: pl.DataFrame
    result: pl.DataFrame
    flow: pl.DataFrame
    looks: pl.DataFrame
    through_night: date
    content_hash: str
    intact: bool
    entry_by_student: dict[str, str]


def freeze(store: Store, con: duckdb.DuckDBPyConnection, trial_id: str, by: str) -> Snapshot:
    """Take the snapshot of an ended trial; the one that is there already stays.

    Raises
    ------
    NotebookRefused
        The trial still runs.
    """
    entry, plan = trial(store, trial_id)
    if entry["ended_on"] is None:
        raise NotebookRefused(f"Trial {trial_id} still runs; it is frozen when it ends.")
    there = read(store, plan)
    if there is not None:
        return there
    rows = outcomes.participants(store, con, trial_id)
    content = json.dumps(
        {
            "participants": _by_entry(rows, _entries(store, trial_id)).to_dicts(),
            "result": outcomes.differences(plan, rows).to_dicts(),
            "flow": outcomes.flow_of(store, trial_id, rows).to_dicts() if plan.kind == "parallel" else [],
            "looks": _looks(store, trial_id).to_dicts(),
        },
        sort_keys=True, default=str,
    )  # fmt: skip
    values = {
        "trial_id": trial_id, "through_night": gates.last_night(con) or entry["ended_on"],
        "content": content, "content_hash": _hash(content),
    }  # fmt: skip
    enter(store, SNAPSHOT, by, values)
    taken = read(store, plan)
    assert taken is not None
    return taken


def read(store: Store, plan: Plan) -> Snapshot | None:
    """Return the first snapshot taken of a trial; None where there is none."""
    rows = current(store, SNAPSHOT).filter(pl.col("trial_id") == plan.trial_id).sort("entered_at")
    if rows.is_empty():
        return None
    row = rows.row(0, named=True)
    held: dict[str, list[dict[str, Any]]] = json.loads(row["content"])
    looks = pl.DataFrame(held["looks"], schema=LOOK | {"on_date": pl.String}, orient="row")
    return Snapshot(
        pl.DataFrame(held["participants"], schema=PERIOD if plan.kind == "crossover" else PARTICIPANT, orient="row"),
        pl.DataFrame(held["result"], schema=RESULT, orient="row"),
        pl.DataFrame(held["flow"], schema=FLOW, orient="row"),
        looks.with_columns(pl.col("on_date").str.to_date()), row["through_night"], row["content_hash"],
        _hash(row["content"]) == row["content_hash"], _entries(store, plan.trial_id),
    )  # fmt: skip


def changed_since(store: Store, con: duckdb.DuckDBPyConnection, trial_id: str, frozen: Snapshot) -> int:
    """Count the students whose row would be read otherwise today: withdrawn, corrected, or measured since."""
    now = _by_entry(outcomes.participants(store, con, trial_id), frozen.entry_by_student)
    key = [name for name in ("student_id", "period") if name in now.columns]
    both = frozen.participants.join(now, on=key, how="left", suffix="_now")
    differs = pl.any_horizontal(
        ~pl.col("done").eq_missing(pl.col("done_now")),
        *(~pl.col(name).round(9).eq_missing(pl.col(f"{name}_now").round(9)) for name in ("baseline", "outcome")),
    )
    return both.filter(differs)["student_id"].n_unique()


def _by_entry(rows: pl.DataFrame, entries: dict[str, str]) -> pl.DataFrame:
    return rows.with_columns(pl.col("student_id").replace_strict(entries, default="taken out", return_dtype=pl.String))


def _entries(store: Store, trial_id: str) -> dict[str, str]:
    rows = current(store, "trial_participant").filter(pl.col("trial_id") == trial_id)
    return dict(rows.select("student_id", "first_entry_id").iter_rows())


def _looks(store: Store, trial_id: str) -> pl.DataFrame:
    looks = current(store, "trial_look").filter(pl.col("trial_id") == trial_id).sort("entered_at")
    return looks.select(*LOOK)


def _hash(content: str) -> str:
    return hashlib.sha256(content.encode()).hexdigest()
