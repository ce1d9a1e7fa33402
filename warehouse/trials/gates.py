"""What stands in the way of a lot or an entry of a trial, each as one sentence; empty where nothing does.

The same for the notebook's page, the command line and anybody who calls the book. Not here: consent, holds and who may
take part (randomisation.refusal, eligible.py).
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import duckdb
import polars as pl

from warehouse.domain.trials.interim_look import FOUND, HARM
from warehouse.notebook.store import NotebookRefused, Store, current, enter
from warehouse.notebook.trial_tables import SAFETY_CHECK
from warehouse.trials.plan import Plan

MOST_WORDS = 500


def stopped_by_look(store: Store, trial_id: str) -> str:
    """Say that a look told to stop: nobody is drawn after it."""
    looks = current(store, "trial_look").filter(
        (pl.col("trial_id") == trial_id) & pl.col("decision").is_in([FOUND, HARM])
    )
    if looks.is_empty():
        return ""
    said = looks.sort("entered_at").row(0, named=True)
    return (
        f"The look through {said['on_date']} said {said['decision']!r}: nobody is drawn any more. End the trial with "
        f"`academy trial follow {trial_id} --end`."
    )


def unexamined_pain(store: Store, plan: Plan, begun_on: date) -> str:
    """Say which drill was stopped for pain since the trial began, with nobody having looked into it on site since."""
    pain = current(store, "stop_entry").filter(
        (pl.col("kind") == "pain") & pl.col("drill_id").is_in(plan.treatments) & (pl.col("at").dt.date() >= begun_on)
    )
    checks = current(store, SAFETY_CHECK).filter(pl.col("trial_id") == plan.trial_id)
    last = pain.group_by("drill_id").agg(pl.col("entered_at").max())
    looked = checks.group_by("drill_id").agg(checked_at=pl.col("entered_at").max())
    open_ones = last.join(looked, on="drill_id", how="left").filter(
        pl.col("checked_at").is_null() | (pl.col("checked_at") < pl.col("entered_at"))
    )
    if open_ones.is_empty():
        return ""
    drill = open_ones.sort("drill_id")["drill_id"][0]
    return (
        f"{drill} was stopped for pain and nobody has looked into it since: no lot is drawn until the coach on site "
        f"has. Then: `academy trial looked-into {plan.trial_id} {drill} --words ...`, or the tick in the notebook."
    )


def full(store: Store, plan: Plan) -> str:
    """Say that as many students are entered as were planned."""
    entered = current(store, "trial_participant").filter(pl.col("trial_id") == plan.trial_id).height
    return f"All {plan.students} students of the plan are entered; a larger trial is another trial." * (
        entered >= plan.students
    )


def elsewhere(store: Store, plan: Plan, student_id: str) -> str:
    """Say that the student is in another running trial of the same number."""
    running = current(store, "trial").filter(pl.col("ended_on").is_null() & (pl.col("trial_id") != plan.trial_id))
    mine = current(store, "trial_participant").filter(pl.col("student_id") == student_id)["trial_id"].to_list()
    for row in running.filter(pl.col("trial_id").is_in(mine)).sort("trial_id").iter_rows(named=True):
        other = Plan.of_json(row["plan"])
        if other.metric == plan.metric:
            return (
                f"{student_id} is in trial {other.trial_id} of the same number already: one drill would be read as the "
                f"other's effect. Wait until {other.trial_id} has ended."
            )
    return ""


def why_no_lot(
    store: Store, row: dict[str, Any], plan: Plan, student_id: str, on: date, today: date | None = None
) -> str:
    """Say why a student cannot be drawn on a day; empty where nothing stands in the way.

    Parameters
    ----------
    row
        The trial's entry.
    """
    if row["ended_on"] is not None or on < row["begun_on"]:
        return f"Trial {plan.trial_id} does not run on this day; nobody is entered."
    return (
        in_future(on, "The day of entry", today)
        or stopped_by_look(store, plan.trial_id)
        or unexamined_pain(store, plan, row["begun_on"])
        or full(store, plan)
        or elsewhere(store, plan, student_id)
    )


def in_future(on: date, what: str, today: date | None = None) -> str:
    """Say that a day has not come yet; `today` by the clock unless given."""
    later = on > (today or date.today())
    return f"{what} ({on}) is in the future; give the day on which it happened." if later else ""


def latest_day(con: duckdb.DuckDBPyConnection) -> date:
    """Return today by the clock, or the day after the last night published where that is later (a clock behind)."""
    night = last_night(con)
    return max(date.today(), night + timedelta(days=1)) if night else date.today()


def last_night(con: duckdb.DuckDBPyConnection) -> date | None:
    """Return the last night that the published file holds; None before the first publication."""
    found = con.execute("select max(through_night) from ops.publication").fetchone()
    return found[0] if found else None


def look_into(store: Store, *, trial_id: str, drill_id: str, words: str, by: str) -> str:
    """Keep that somebody on site looked into a drill's stop: who, when and what was looked at.

    Raises
    ------
    NotebookRefused
        Without words, or with too many.
    """
    if not words.strip() or len(words) > MOST_WORDS:
        raise NotebookRefused(f"Say what was looked at in a sentence, {MOST_WORDS} characters at most, without names.")
    values = {"trial_id": trial_id, "drill_id": drill_id, "words": words.strip()}
    return enter(store, SAFETY_CHECK, by, values)
