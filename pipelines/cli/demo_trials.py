"""The invented academy's drill trials kept in its notebook: begun, agreed to, drawn and ended as anybody's are.

Who is asked and what is then done comes with the made academy; only the lots come from here. The same seed draws the
same: the trial's secret and the ids of those entered follow from it. In a real trial both are random, and no page or
command can give them; a demo has nothing to hide. Not here: what a trial is (warehouse/trials).
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Any

from warehouse.home import Home

if TYPE_CHECKING:
    from warehouse.notebook.store import Store
    from warehouse.settings.settings import Settings
    from warehouse.trials.plan import Plan

BY = "demo"
DAYS_AHEAD = 28


@contextmanager
def drawing(home: Home, seed: int, today: date) -> Iterator[Callable[[Any, Sequence[Any]], dict[str, str]]]:
    """Open a home's notebook and return what keeps a trial and draws its lots, as the made academy asks for it.

    `today` dates a trial that is only planned.
    """
    from warehouse.notebook.store import open_store
    from warehouse.settings import settings

    home.path.mkdir(parents=True, exist_ok=True)
    known = settings.load(home.path)
    store = open_store(home.notebook_url(known.notebook.url))
    try:
        yield lambda trial, asked: _played(store, home, _plan(known, trial), trial, asked, seed, today)
    finally:
        store.close()


def _played(
    store: Store, home: Home, plan: Plan, trial: Any, asked: Sequence[Any], seed: int, today: date
) -> dict[str, str]:  # fmt: skip
    """Begin a trial, enter in order those who agree, end it where it has ended; return student_id -> arm.

    What the notebook holds already (a demo that was cut short, or is made anew) stays, and is not entered twice.
    """
    from warehouse.notebook.store import current
    from warehouse.trials import book

    this = {"trial_id": plan.trial_id}
    if plan.trial_id not in set(current(store, "trial")["trial_id"]):
        begun_on = trial.begun_on or today + timedelta(days=DAYS_AHEAD)
        book.begin(store, home.path, plan, begun_on=begun_on, by=BY, known_secret=_known(seed, plan.trial_id, "secret"))
    told = {
        student
        for table in ("trial_lot", "trial_decline")
        for student, named in current(store, table).select("student_id", "trial_id").iter_rows()
        if named == plan.trial_id
    }
    for one in asked:
        if one.student_id not in told:
            _entered(store, home, plan, one, seed)
    if trial.ended_on is not None and book.trial(store, plan.trial_id)[0]["ended_on"] is None:
        faults = book.end(store, home.path, on=trial.ended_on, by=BY, **this)
        if faults:
            raise RuntimeError("; ".join(faults))
    return dict(book.lots_so_far(store, plan.trial_id).select("student_id", "arm").iter_rows())


def _known(seed: int, *words: str) -> bytes:
    """Return 32 bytes that follow from the seed."""
    return hashlib.sha256("\n".join((str(seed), *words)).encode()).digest()


def _plan(known: Settings, trial: Any) -> Plan:
    """Return the plan, in the form that a notebook keeps."""
    from warehouse.domain.trials.randomisation import FREE_PRACTICE
    from warehouse.trials.plan import Plan

    return Plan(
        trial_id=trial.trial_id, title=trial.title, kind="parallel", horizon="transfer",
        treatments=((FREE_PRACTICE,) if trial.free_practice else ()) + trial.drills, metric=trial.metric,
        measure="distance" if trial.toward else "centre", club_group=trial.club_group,
        better=-1.0 if trial.toward else 1.0, matters_from=known.matters_from(trial.metric, trial.club_group),
        students=trial.students, episodes=1, weeks=trial.weeks, gap_middle=trial.gap_middle,
        cohorts=trial.cohorts,
    )  # fmt: skip


def _entered(store: Store, home: Home, plan: Plan, one: Any, seed: int) -> None:
    """Keep what one student said, and draw where they agreed."""
    from warehouse.trials import book

    named = {"trial_id": plan.trial_id, "student_id": one.student_id, "by": BY}
    at = datetime.combine(one.on, time(12))
    if one.refused:
        book.decline(store, declined_by="student", reason=one.refused, at=at, **named)
        return
    for who in ("student", "guardian") if one.minor else ("student",):
        book.agree(store, agreed_by=who, agreed_on=one.on, **named)
    entry_id, lot_id = (
        str(uuid.UUID(bytes=_known(seed, plan.trial_id, one.student_id, what)[:16], version=4))
        for what in ("entry", "lot")
    )
    lot = book.enter_and_draw(
        store, home.path, site_id=one.site_id, starting_gap=one.starting_gap, minor=one.minor, consent=True, on=one.on,
        known_ids=(entry_id, lot_id), **named,
    )  # fmt: skip
    if one.instead:
        other = next(name for name in plan.treatments if name != lot.arm)
        book.decline(store, declined_by="coach", reason=one.instead, at=at, instead=other, **named)
    if one.withdraws:
        book.take_back(store, **named)
