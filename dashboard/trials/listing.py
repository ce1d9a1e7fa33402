"""The academy's drill trials as pages read them: entry, plan, state and how many were entered.

Not here: what is written (warehouse/trials/book.py), outcomes.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import polars as pl
import streamlit as st

from dashboard.notebook import store as notebook_store
from dashboard.shell import query_cache
from dashboard.shell.number_format import Shown
from dashboard.shell.page_context import Reading
from dashboard.text import trials as words
from dashboard.text.drill_sentences import Row
from dashboard.text.notebook_sentences import plain
from warehouse.domain.trials.randomisation import FREE_PRACTICE, ORDER_MARK
from warehouse.notebook.store import Store, current
from warehouse.trials import book, proposal
from warehouse.trials.plan import Plan

ORDER = ("running", "planned", "finished")


@dataclass(frozen=True)
class Trial:
    """One trial: its entry (table trial), its plan, students entered, and planned, running or finished."""

    row: Row
    plan: Plan
    entered: int
    state: str

    @property
    def trial_id(self) -> str:
        """Return its id."""
        return str(self.row["trial_id"])

    @property
    def title(self) -> str:
        """Return its name as typed, safe to print."""
        return plain(self.plan.title)


def trials(read: Reading, today: date) -> list[Trial]:
    """Return every trial, those that run first; none where there is no notebook.

    Raises
    ------
    Exception
        The notebook is there and cannot be read.
    """
    if not notebook_store.exists(read.home):
        return []
    store = notebook_store.opened(read.home)
    entered = dict(current(store, "trial_participant").group_by("trial_id").len().iter_rows())
    found = [
        Trial(row, Plan.of_json(row["plan"]), entered.get(row["trial_id"], 0), book.state_of(row, today))
        for row in current(store, "trial").sort("begun_on", "trial_id", descending=[True, False]).iter_rows(named=True)
    ]
    return sorted(found, key=lambda one: ORDER.index(one.state))


def drill_names(read: Reading) -> dict[str, str]:
    """Return the names of drills and of free practice."""
    named = dict(read.ask("drills").select("drill_id", "name").iter_rows())
    return {**named, FREE_PRACTICE: words.FREE_PRACTICE}


def arm_name(arm: str, names: Mapping[str, str]) -> str:
    """Return a group in words: a drill, free practice, or the order drawn."""
    return ", then ".join(names.get(part, part) for part in arm.split(ORDER_MARK))


def shown_of(read: Reading, plan: Plan) -> Shown:
    """Return how a trial's number is shown."""
    return read.shown(plan.metric, plan.club_group, plan.measure)


def cautions(read: Reading, plan: Plan) -> pl.DataFrame:
    """Return the trial's drills with set-up and caution (query drills), in the plan's order."""
    drills = read.ask("drills").filter(pl.col("drill_id").is_in(plan.treatments))
    place = {drill: at for at, drill in enumerate(plan.treatments)}
    return drills.sort(pl.col("drill_id").replace_strict(place, return_dtype=pl.Int64))


def of_student(store: Store, table: str, trial_id: str, student_id: str) -> pl.DataFrame:
    """Return a trial's entries for one student as they stand, the first first (a table of notebook/trial_tables.py)."""
    mine = (pl.col("trial_id") == trial_id) & (pl.col("student_id") == student_id)
    return current(store, table).filter(mine).sort("entered_at")


def agreements(store: Store, trial_id: str, student_id: str) -> dict[str, date]:
    """Return who agreed (student, guardian) and on which day, as far as it stands."""
    rows = of_student(store, "trial_agreement", trial_id, student_id)
    return dict(rows.select("agreed_by", "agreed_on").iter_rows())


def starting_gap(read: Reading, plan: Plan, student_id: str) -> float | None:
    """Return how far a student stands from a trial's aim now; None without a session with the number."""
    every = _gaps(read.path, plan.metric, plan.club_group, plan.measure, plan.better, plan.target)
    own = every.filter(pl.col("student_id") == student_id)["gap"]
    return None if own.is_empty() else float(own[0])


@st.cache_data(max_entries=64, show_spinner=False)
def _gaps(path: str, metric: str, club_group: str, measure: str, better: float, target: float) -> pl.DataFrame:
    con = query_cache.connection(path).cursor()
    return proposal.gaps(con, metric=metric, club_group=club_group, measure=measure, better=better, target=target)
