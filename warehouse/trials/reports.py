"""A finished trial, whole: the difference with verdict and certainty, who was assessed, drawn, done, analysed.

In the order of a trial report's flow (CONSORT 2010). Not here: the estimate (outcomes.py), how it is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import duckdb
import polars as pl

from warehouse.notebook.store import NotebookRefused, Store
from warehouse.trials import book, follow, judgement, snapshot
from warehouse.trials.judgement import Verdict
from warehouse.trials.plan import Plan

CHANGED = "The frozen rows of this trial no longer have the hash they were kept with: somebody changed them."


@dataclass(frozen=True)
class Report:
    """`result` estimate.RESULT with intervals that hold at all looks; `flow` consort_flow.FLOW (empty for a crossover);
    `participants` one row a student; `state` as it ended; `looks` taken; `verdicts` by arm; `faults` lots that do not
    agree when drawn anew, and a snapshot that was changed; `frozen` what the report is read from; `changed_since` how
    many students would be read otherwise today."""

    entry: dict[str, Any]
    plan: Plan
    result: pl.DataFrame
    flow: pl.DataFrame
    participants: pl.DataFrame
    state: follow.State
    looks: pl.DataFrame
    verdicts: dict[str, Verdict]
    faults: list[str]
    frozen: snapshot.Snapshot
    changed_since: int


def report(store: Store, con: duckdb.DuckDBPyConnection, trial_id: str) -> Report:
    """Read a finished trial.

    Raises
    ------
    NotebookRefused
        It still runs: its outcomes are seen at looks only, by the rule chosen at the start.
    """
    entry, plan = book.trial(store, trial_id)
    if entry["ended_on"] is None:
        raise NotebookRefused(
            f"Trial {trial_id} still runs. `academy trial follow {trial_id} --look` takes a look by its rule; "
            f"`academy trial follow {trial_id} --end` ends it."
        )
    frozen = snapshot.freeze(store, con, trial_id, by="report")
    looks, rows = frozen.looks, frozen.participants
    result = judgement.at_all_looks(plan, frozen.result, looks)
    weeks = max((entry["ended_on"] - entry["begun_on"]).days / 7, 1.0)
    drawn = result.filter(pl.col("analysis") == "as drawn").iter_rows(named=True)
    counts = dict(rows.group_by("arm").agg(pl.col("student_id").n_unique()).iter_rows())
    counts = {name: counts.get(name, 0) for name in plan.treatments}
    return Report(
        entry, plan, result, frozen.flow if plan.kind == "parallel" else pl.DataFrame(),
        rows, follow.state(store, con, trial_id, entry["ended_on"]), looks,
        {row["arm"]: judgement.judged(plan, row, weeks, counts) for row in drawn},
        [*book.check(store, trial_id), *([] if frozen.intact else [CHANGED])], frozen,
        snapshot.changed_since(store, con, trial_id, frozen),
    )  # fmt: skip
