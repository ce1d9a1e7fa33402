"""A running trial against its plan, and a look at its outcomes by the rule chosen at the start.

What `state` returns holds no outcome by arm and may be seen at any time; `take_look` is kept and counts. Not here: the
rules (warehouse/domain/trials/interim_look.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import duckdb
import polars as pl

from warehouse.domain.trials import interim_look, progress
from warehouse.domain.trials.interim_look import TOO_EARLY, Look, Safety
from warehouse.domain.trials.randomisation import FREE_PRACTICE
from warehouse.notebook.store import NotebookRefused, Store, current
from warehouse.trials import book, eligible, gates, outcomes


@dataclass(frozen=True)
class State:
    """`recruitment`, `balance`, `arms`: tables of trial_follow (a crossover has no arms to balance: empty); `sentence`
    how far it is; `safety` by drill; `open_to` who may take part (empty: all), `ineligible` students looked at who may
    not; `harm` it was stopped for and `harm_words` on it, empty where it was not."""

    recruitment: pl.DataFrame
    balance: pl.DataFrame
    arms: pl.DataFrame
    sentence: str
    safety: dict[str, Safety]
    open_to: str = ""
    ineligible: int = 0
    harm: str = ""
    harm_words: str = ""


def known_through(store: Store, con: duckdb.DuckDBPyConnection, trial_id: str, today: date) -> date:
    """Return the last day of which anything is known: the night published, or the latest entry; today at most."""
    row, _ = book.trial(store, trial_id)
    entered = current(store, "trial_participant").filter(pl.col("trial_id") == trial_id)["entered_on"].max()
    days = (gates.last_night(con), row["begun_on"], entered)
    return min(today, max(day for day in days if day is not None))


def state(store: Store, con: duckdb.DuckDBPyConnection, trial_id: str, today: date) -> State:
    """Return how a trial does on a day."""
    row, plan = book.trial(store, trial_id)
    mine = pl.col("trial_id") == trial_id
    entered = current(store, "trial_participant").filter(mine)
    rows = outcomes.participants(store, con, trial_id)
    parallel = plan.kind == "parallel"
    gaps = rows.join(entered.select("student_id", "starting_gap"), on="student_id", how="left")
    declined = current(store, "trial_decline").filter(mine)["student_id"].unique()
    counted = rows.with_columns(
        declined=pl.col("student_id").is_in(declined.to_list()), followed=pl.col("outcome").is_not_null()
    )
    weeks = max((today - row["begun_on"]).days / 7, 0.0)
    return State(
        progress.recruitment(entered["entered_on"].to_list(), row["begun_on"], today, plan.students, plan.weeks),
        progress.balance(gaps if parallel else gaps.clear(), ["starting_gap", "baseline"], plan.treatments[0]),
        progress.arms(counted),
        progress.pace_sentence(entered.height, plan.students, weeks),
        {drill: _safety(store, con, drill, row["begun_on"]) for drill in plan.treatments if drill != FREE_PRACTICE},
        eligible.who(plan),
        eligible.kept(store, trial_id).join(entered, on="student_id", how="anti").height,
        row["harm_kind"] or "", row["harm_words"] or "",
    )  # fmt: skip


def _safety(store: Store, con: duckdb.DuckDBPyConnection, drill_id: str, since: date) -> Safety:
    """Stops of a drill in the whole academy since the trial began: a danger does not ask who was drawn."""
    stops = current(store, "stop_entry").filter((pl.col("drill_id") == drill_id) & (pl.col("at").dt.date() >= since))
    pain = stops.filter(pl.col("kind") == "pain").height
    query = "select count(*) from core.drill_episode where drill_id = ? and night >= ?"
    found = con.execute(query, [drill_id, since]).fetchone()
    # A stop of today has no episode in last night's file yet.
    episodes = max(int(found[0]) if found else 0, stops.height)
    return interim_look.safety(pain, stops.height - pain, episodes)


def take_look(
    store: Store, con: duckdb.DuckDBPyConnection, trial_id: str, *, on: date, by: str, last: bool = False
) -> dict[str, Look]:
    """Look at each arm against the reference by the trial's rule, keep every look, and return them by arm.

    A look's date is the night that it read; `on` stands where no publication says which.

    Raises
    ------
    NotebookRefused
        The trial has ended, or the last look was taken already.
    """
    row, plan = book.trial(store, trial_id)
    if row["ended_on"] is not None:
        raise NotebookRefused(f"Trial {trial_id} ended on {row['ended_on']}; read its result instead of looking.")
    before = current(store, "trial_look").filter((pl.col("trial_id") == trial_id) & (pl.col("decision") != TOO_EARLY))
    if (before["information"] >= 1).any():
        raise NotebookRefused("The last look was taken already; read the trial's result.")
    rule, looks = plan.decision_rule(), {}
    on = gates.last_night(con) or on
    found = outcomes.result(store, con, trial_id).filter(pl.col("analysis") == "as drawn")
    for row in found.iter_rows(named=True):
        shares = tuple(before.filter(pl.col("arm") == row["arm"]).sort("information")["information"].to_list())
        measured = row["students"] + (row["reference_students"] if plan.kind == "parallel" else 0)
        given = (row[name] if row[name] is not None else 0.0 for name in ("effect", "standard_error", "df"))
        seen = interim_look.look(rule, *given, measured, shares, last)
        book.keep_look(
            store, trial_id=trial_id, on=on, arm=row["arm"], effect=row["effect"], error=row["standard_error"],
            look=seen, by=by,
        )  # fmt: skip
        looks[row["arm"]] = seen
    return looks
