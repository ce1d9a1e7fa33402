"""A trial in the notebook: begun, agreed to, a student entered and drawn in one step, declined, ended.

Each function is one tap or one command; entries are only ever added. Not here: outcomes (outcomes.py).
"""

from __future__ import annotations

import json
from datetime import date, datetime
from pathlib import Path
from typing import Any

import polars as pl
from sqlalchemy import Connection, select

from warehouse.domain.trials import randomisation
from warehouse.domain.trials.interim_look import Look
from warehouse.domain.trials.randomisation import FREE_PRACTICE, Entered, Lot
from warehouse.notebook.store import NotebookRefused, Store, correct, current, enter, new_row, withdraw
from warehouse.notebook.tables import TABLES
from warehouse.notebook.trial_tables import AGREED_BY, DECLINED_BY, HARMS, LOT_GONE
from warehouse.trials import eligible, gates, secret
from warehouse.trials.plan import Plan

OVERVIEW = {
    "trial_id": pl.String, "state": pl.String, "title": pl.String, "metric": pl.String, "club_group": pl.String,
    "begun_on": pl.Date, "ended_on": pl.Date, "entered": pl.Int64, "students": pl.Int64, "open_to": pl.String,
}  # fmt: skip


def begin(
    store: Store, home: Path, plan: Plan, *, begun_on: date, by: str, known_secret: bytes | None = None
) -> str:  # fmt: skip
    """Begin a trial: make its secret, write plan and commitment down; return the commitment to be shown.

    `known_secret`: an invented academy's only (secret.make).
    """
    if plan.trial_id in set(current(store, "trial")["trial_id"]):
        raise NotebookRefused(f"There is a trial {plan.trial_id} already; give this one another id.")
    made = secret.make(home, plan.trial_id, known_secret)
    committed = randomisation.commitment(made, json.loads(plan.as_json()))
    values = {"trial_id": plan.trial_id, "plan": plan.as_json(), "commitment": committed, "begun_on": begun_on}
    enter(store, "trial", by, values)
    return committed


def agree(
    store: Store, *, trial_id: str, student_id: str, agreed_by: str, agreed_on: date, by: str,
    today: date | None = None,
) -> str:  # fmt: skip
    """Enter a dated agreement to take part, the student's own or a guardian's; return the entry to take it back by."""
    _trial(store, trial_id)
    if agreed_by not in AGREED_BY:
        raise NotebookRefused(f"{agreed_by!r} cannot agree; one of: {', '.join(AGREED_BY)}.")
    if said := gates.in_future(agreed_on, "The day of the agreement", today):
        raise NotebookRefused(said)
    values = {"trial_id": trial_id, "student_id": student_id, "agreed_by": agreed_by, "agreed_on": agreed_on}
    return enter(store, "trial_agreement", by, values)


def take_back(store: Store, *, trial_id: str, student_id: str, by: str) -> int:
    """Take back every agreement for a student in one tap; return how many stood."""
    _trial(store, trial_id)
    standing = _of(store, "trial_agreement", trial_id).filter(pl.col("student_id") == student_id)
    for entry_id in standing["entry_id"]:
        withdraw(store, "trial_agreement", entry_id, by)
    return standing.height


def enter_and_draw(
    store: Store, home: Path, *, trial_id: str, student_id: str, site_id: str, starting_gap: float, minor: bool,
    consent: bool, on: date, by: str, known_ids: tuple[str, str] | None = None,
    member_of: pl.DataFrame = eligible.NO_MEMBERSHIP, today: date | None = None,
) -> Lot:  # fmt: skip
    """Enter a student for good and draw the lot, both or neither.

    `member_of`: the student's times in cohorts (eligible.memberships), asked where the plan names cohorts.

    `known_ids`, of the student's entry and of the lot, is for an invented academy only: who may give ids may try out
    lots.

    Raises
    ------
    NotebookRefused
        The trial is over, or the student may not be drawn: held, no agreement, drawn already. Nothing is written; of
        who is outside the plan's cohorts or goal, only that.
    """
    row, plan = _trial(store, trial_id)
    if said := gates.why_no_lot(store, row, plan, student_id, on, today):
        raise NotebookRefused(said)
    given = (pl.col("student_id") == student_id) & (pl.col("agreed_on") <= on)
    agreed = set(_of(store, "trial_agreement", trial_id).filter(given)["agreed_by"])
    held = _held(store, plan, student_id, on)
    outside = eligible.why_not(plan, student_id, member_of, eligible.goals(store).get(student_id), on)
    key = secret.read(home, trial_id)
    stratum = randomisation.stratum_of(site_id, randomisation.starting_half(starting_gap, plan.gap_middle))
    with store.engine.begin() as connection:
        # The trial's first row is the lock: two tablets cannot draw the same place.
        trials = TABLES["trial"]
        connection.execute(select(trials.c.number).where(trials.c.trial_id == trial_id).with_for_update())
        lots = _lots(connection, trial_id)
        refused = randomisation.refusal(
            plan.treatments, unfit=held, agreed="student" in agreed, minor=minor, guardian_agreed="guardian" in agreed,
            already=student_id in {lot["student_id"] for lot in lots}, consent=consent,
            outside=outside.sentence if outside else "",
        )  # fmt: skip
        if not refused:
            named = {"trial_id": trial_id, "student_id": student_id, "stratum": stratum}
            entry_id, lot_id = known_ids or (None, None)
            participant = new_row(by, named | {"starting_gap": starting_gap, "entered_on": on}, entry_id)
            connection.execute(TABLES["trial_participant"].insert().values(participant))
            entered = Entered(participant["entry_id"], student_id, stratum)
            lot = randomisation.draw(plan.lots(), key, entered, [x["arm"] for x in lots if x["stratum"] == stratum])
            kept = {"participant_entry_id": lot.entry_id, "place": lot.place, "block": lot.block, "arm": lot.arm}
            connection.execute(TABLES["trial_lot"].insert().values(new_row(by, named | kept, lot_id)))
            return lot
    if outside and refused == outside.sentence:
        eligible.keep(store, trial_id=trial_id, student_id=student_id, reason=outside.reason, on=on, by=by)
    raise NotebookRefused(refused)


def _held(store: Store, plan: Plan, student_id: str, on: date) -> list[str]:
    """Treatments held for a student on a day; a held aim holds every drill of a trial on it."""
    mine = current(store, "hold").filter((pl.col("student_id") == student_id) & (pl.col("until") > on))
    if plan.metric in set(mine["aim_metric"].drop_nulls()):
        return [name for name in plan.treatments if name != FREE_PRACTICE]
    return [name for name in plan.treatments if name in set(mine["drill_id"].drop_nulls())]


def _lots(connection: Connection, trial_id: str) -> list[dict[str, Any]]:
    """Lots by stratum and place, those of students since taken out too: no place is drawn twice."""
    lots: list[dict[str, Any]] = []
    for table in (TABLES["trial_lot"], TABLES[LOT_GONE]):
        query = select(table).where(table.c.trial_id == trial_id)
        lots += [{"student_id": None} | dict(row) for row in connection.execute(query).mappings()]
    return sorted(lots, key=lambda lot: (lot["stratum"], lot["place"]))


def decline(
    store: Store, *, trial_id: str, student_id: str, declined_by: str, reason: str, at: datetime, by: str,
    instead: str | None = None,
) -> str:  # fmt: skip
    """Keep that the student would not take part, or that the coach gave something other than the lot, and why."""
    _trial(store, trial_id)
    if declined_by not in DECLINED_BY:
        raise NotebookRefused(f"{declined_by!r} cannot decline; one of: {', '.join(DECLINED_BY)}.")
    if not reason.strip() or len(reason) > gates.MOST_WORDS:
        raise NotebookRefused(f"Give the reason in a sentence, {gates.MOST_WORDS} characters at most.")
    values = {
        "trial_id": trial_id, "student_id": student_id, "declined_by": declined_by, "reason": reason.strip(),
        "instead": instead, "at": at,
    }  # fmt: skip
    return enter(store, "trial_decline", by, values)


def keep_look(
    store: Store, *, trial_id: str, on: date, arm: str, effect: float | None, error: float | None, look: Look, by: str
) -> str:  # fmt: skip
    """Keep a look that was taken: every one counts in the next one's rule."""
    values = {
        "trial_id": trial_id, "on_date": on, "arm": arm, "effect": effect, "standard_error": error,
        "information": look.information, "decision": look.decision,
    }  # fmt: skip
    return enter(store, "trial_look", by, values)


def end(
    store: Store,
    home: Path,
    *,
    trial_id: str,
    on: date,
    by: str,
    harm: str | None = None,
    harm_words: str = "",
    today: date | None = None,
) -> list[str]:
    """End a trial, open its secret, and draw every lot anew; return what does not agree, empty where all does.

    `harm`, one of HARMS, where it is stopped for harm, with a sentence or none.
    """
    row, _ = _trial(store, trial_id)
    if row["ended_on"] is not None:
        raise NotebookRefused(f"Trial {trial_id} has ended already.")
    if harm not in (None, *HARMS) or (harm is None and harm_words.strip()):
        said = "Words alone are not kept" if harm is None else f"{harm!r} is no kind of harm"
        raise NotebookRefused(f"{said}; say which harm it was: {', '.join(HARMS)}.")
    if len(harm_words) > gates.MOST_WORDS:
        raise NotebookRefused(f"Say what happened in a sentence, {gates.MOST_WORDS} characters at most.")
    if said := gates.in_future(on, "The day of the end", today):
        raise NotebookRefused(said)
    if on < row["begun_on"]:
        raise NotebookRefused(f"Trial {trial_id} began on {row['begun_on']}; it cannot have ended before.")
    opened = secret.read(home, trial_id)
    correct(
        store, "trial", row["entry_id"], by, ended_on=on, opened_secret=opened.hex(), harm_kind=harm,
        harm_words=harm_words.strip() or None,
    )  # fmt: skip
    return check(store, trial_id)


def check(store: Store, trial_id: str) -> list[str]:
    """Draw every lot of an ended trial anew with its opened secret; return what does not agree."""
    row, plan = _trial(store, trial_id)
    if row["opened_secret"] is None:
        raise NotebookRefused(f"Trial {trial_id} still runs; its secret is opened at the end.")
    drawn = [
        (Entered(x["participant_entry_id"], x["student_id"], x["stratum"]),
         Lot(x["participant_entry_id"], x["stratum"], x["place"], x["block"], x["arm"]))
        for x in _of(store, "trial_lot", trial_id).iter_rows(named=True)
    ]  # fmt: skip
    opened = bytes.fromhex(row["opened_secret"])
    gone = [
        Lot("", x["stratum"], x["place"], x["block"], x["arm"])
        for x in _of(store, LOT_GONE, trial_id).iter_rows(named=True)
    ]
    return randomisation.verify(plan.lots(), opened, json.loads(row["plan"]), row["commitment"], drawn, gone)


def trial(store: Store, trial_id: str) -> tuple[dict[str, Any], Plan]:
    """Return a trial's entry as it stands and its plan."""
    return _trial(store, trial_id)


def state_of(entry: dict[str, Any], today: date) -> str:
    """Return whether a trial is planned, running or finished on a day."""
    if entry["ended_on"] is not None:
        return "finished"
    return "planned" if entry["begun_on"] > today else "running"


def overview(store: Store, today: date) -> pl.DataFrame:
    """Return every trial, the latest first: trial_id, state, title, metric, club_group, begun_on, ended_on, entered,
    students (planned), open_to (who may take part where not all)."""
    entered = dict(current(store, "trial_participant").group_by("trial_id").len().iter_rows())
    rows = []
    for entry in current(store, "trial").sort("begun_on", "trial_id", descending=[True, False]).iter_rows(named=True):
        plan = Plan.of_json(entry["plan"])
        rows.append(
            (plan.trial_id, state_of(entry, today), plan.title, plan.metric, plan.club_group, entry["begun_on"],
             entry["ended_on"], entered.get(plan.trial_id, 0), plan.students, eligible.who(plan))
        )  # fmt: skip
    return pl.DataFrame(rows, schema=OVERVIEW, orient="row")


def lots_so_far(store: Store, trial_id: str) -> pl.DataFrame:
    """Lots drawn so far, in the order drawn: student_id, stratum, place, block, arm, entered_at. For page and CSV.

    There is no list of lots to come: none exists.
    """
    _trial(store, trial_id)
    drawn = _of(store, "trial_lot", trial_id).sort("entered_at", "stratum", "place")
    return drawn.select("student_id", "stratum", "place", "block", "arm", "entered_at")


def _trial(store: Store, trial_id: str) -> tuple[dict[str, Any], Plan]:
    rows = _of(store, "trial", trial_id)
    if rows.is_empty():
        raise NotebookRefused(f"There is no trial {trial_id}; look at the list of trials.")
    row = rows.row(0, named=True)
    return row, Plan.of_json(row["plan"])


def _of(store: Store, table: str, trial_id: str) -> pl.DataFrame:
    return current(store, table).filter(pl.col("trial_id") == trial_id)
