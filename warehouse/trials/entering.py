"""A student entered from what the published file says of them: age, cohorts, consent, site, starting gap.

Not here: the draw and what refuses it (book.py).
"""

from __future__ import annotations

from datetime import date
from pathlib import Path

import duckdb
import polars as pl

from warehouse.domain.trials.randomisation import Lot
from warehouse.notebook.store import NotebookRefused, Store
from warehouse.trials import book, eligible, gates, proposal

_STUDENT = """
-- One row: a student as a trial asks, with the site of the latest session.
select student.minor, student.in_evidence, bay.site_id
from mart.student as student
left join core.session as session using (student_id)
left join mart.bay as bay using (bay_id)
where student.student_id = ?
order by session.begins_at desc
limit 1
"""
_CAUTION = "select caution from mart.drill where drill_id = ?"


def enter(
    store: Store, con: duckdb.DuckDBPyConnection, home: Path, trial_id: str, student_id: str, *, on: date, by: str
) -> tuple[Lot, str | None]:
    """Enter a student and draw; return the lot and the caution of the drill that it begins with.

    Raises
    ------
    NotebookRefused
        The student is not known, has no session with the trial's number, or may not be drawn.
    """
    _, plan = book.trial(store, trial_id)
    found = con.execute(_STUDENT, [student_id]).fetchone()
    if found is None:
        raise NotebookRefused(f"There is no student {student_id} in the published file.")
    minor, in_evidence, site_id = found
    every = proposal.gaps(
        con, metric=plan.metric, club_group=plan.club_group, measure=plan.measure, better=plan.better,
        target=plan.target,
    )  # fmt: skip
    own = every.filter(pl.col("student_id") == student_id)["gap"]
    if own.is_empty() or site_id is None:
        raise NotebookRefused(
            f"{student_id} has no session with {plan.metric}, {plan.club_group} as evidence yet: no starting gap is "
            "known."
        )
    lot = book.enter_and_draw(
        store, home, trial_id=trial_id, student_id=student_id, site_id=site_id, starting_gap=float(own[0]),
        # Who may be a minor is asked as one; the published file says so of an unknown age too.
        minor=minor is not False, consent=bool(in_evidence), on=on, by=by,
        member_of=eligible.memberships(con, student_id), today=gates.latest_day(con),
    )  # fmt: skip
    drill = plan.first_drill(lot.arm)
    row = con.execute(_CAUTION, [drill]).fetchone() if drill else None
    return lot, row[0] if row else None
