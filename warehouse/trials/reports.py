"""A finished trial, whole: the difference with verdict and certainty, who was assessed, drawn, done, analysed.

In the order of a trial report's flow (CONSORT 2010). Not here: the estimate (outcomes.py), how it is shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import duckdb
import polars as pl

from warehouse.notebook.store import NotebookRefused, Store, current
from warehouse.trials import book, follow, judgement, outcomes
from warehouse.trials.judgement import Verdict
from warehouse.trials.plan import Plan


@dataclass(frozen=True)
class Report:
    """`result` trial_estimate.RESULT with intervals that hold at all looks; `flow` trial_flow.FLOW (empty for a
    crossover); `participants` one row a student; `state` as it ended; `looks` taken; `verdicts` by arm; `faults` lots
    that do not agree when drawn anew."""

    entry: dict[str, Any]
    plan: Plan
    result: pl.DataFrame
    flow: pl.DataFrame
    participants: pl.DataFrame
    state: follow.State
    looks: pl.DataFrame
    verdicts: dict[str, Verdict]
    faults: list[str]


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
    looks = current(store, "trial_look").filter(pl.col("trial_id") == trial_id).sort("entered_at")
    rows = outcomes.participants(store, con, trial_id)
    result = judgement.at_all_looks(plan, outcomes.differences(plan, rows), looks)
    weeks = max((entry["ended_on"] - entry["begun_on"]).days / 7, 1.0)
    drawn = result.filter(pl.col("analysis") == "as drawn").iter_rows(named=True)
    counts = dict(rows.group_by("arm").agg(pl.col("student_id").n_unique()).iter_rows())
    counts = {name: counts.get(name, 0) for name in plan.treatments}
    return Report(
        entry, plan, result,
        outcomes.flow_of(store, trial_id, rows) if plan.kind == "parallel" else pl.DataFrame(),
        rows, follow.state(store, con, trial_id, entry["ended_on"]), looks,
        {row["arm"]: judgement.judged(plan, row, weeks, counts) for row in drawn}, book.check(store, trial_id),
    )  # fmt: skip
