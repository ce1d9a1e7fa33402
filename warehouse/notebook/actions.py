"""What a person does in the notebook, one function a tap; each checks what it is given and says what is wrong.

Times are the site's local time, naive. Each returns the new entry's id. Not here: how entries are kept (store.py).
"""

from __future__ import annotations

import math
from datetime import UTC, date, datetime
from pathlib import Path

import polars as pl

from warehouse.notebook.measures import measures
from warehouse.notebook.overlaps import overlapping
from warehouse.notebook.store import NotebookRefused, Store, current, enter, fill, history
from warehouse.notebook.tables import CHOSEN_BY, STOPS, STRETCHES, USES
from warehouse.schema.metrics import CLUB_GROUPS, METRIC

MOST_WORDS = 2000


def begin_drill(
    store: Store, *, drill_id: str, starts_at: datetime, by: str, lesson_id: str | None = None,
    student_id: str | None = None, bay_id: str | None = None, ends_at: datetime | None = None,
    chosen_by: str | None = "coach", placed_afterwards: bool = False, entry_id: str | None = None,
) -> str:  # fmt: skip
    """Enter that a drill began, in a lesson or by student and bay; with `ends_at` one that is over already."""
    if not lesson_id and not (student_id and bay_id):
        raise NotebookRefused("It is not said whose drill this is; give the lesson, or the student and the bay.")
    if chosen_by is not None:
        _one_of("chosen by", chosen_by, CHOSEN_BY)
    _named("drill", drill_id)
    values = {
        "lesson_id": lesson_id, "student_id": student_id, "bay_id": bay_id, "drill_id": drill_id,
        **_span(starts_at, ends_at), "chosen_by": chosen_by, "placed_afterwards": placed_afterwards,
    }  # fmt: skip
    if placed_afterwards and student_id and ends_at is not None:
        met = overlapping(store, student_id, starts_at, ends_at, entry_id)
        if met is not None:
            raise NotebookRefused(
                f"This student has drill {met['drill_id']} at that time, from {met['starts_at']:%H:%M}; correct that "
                f"entry, or give other times."
            )
    return enter(store, "drill_entry", by, values, entry_id)


def end_drill(store: Store, entry_id: str, *, ends_at: datetime, by: str) -> str:
    """Enter that a drill ended."""
    return _end(store, "drill_entry", entry_id, ends_at, by)


def mark(
    store: Store, *, bay_id: str, kind: str, starts_at: datetime, by: str, ends_at: datetime | None = None,
    student_id: str | None = None, moved_to_bay_id: str | None = None, entry_id: str | None = None,
) -> str:  # fmt: skip
    """Mark a stretch in a bay as not the student's own full swings, or that the student moved to another bay."""
    _named("bay", bay_id)
    _one_of("kind", kind, STRETCHES)
    if (kind == "moved to bay") != bool(moved_to_bay_id):
        raise NotebookRefused("A move to another bay, and only that, names the bay; give it or choose another mark.")
    values = {"bay_id": bay_id, "student_id": student_id, "kind": kind, "moved_to_bay_id": moved_to_bay_id}
    return enter(store, "set_aside", by, values | _span(starts_at, ends_at), entry_id)


def end_mark(store: Store, entry_id: str, *, ends_at: datetime, by: str) -> str:
    """Enter that a marked stretch ended."""
    return _end(store, "set_aside", entry_id, ends_at, by)


def record_stop(
    store: Store, *, student_id: str, drill_id: str, kind: str, at: datetime, by: str, entry_id: str | None = None
) -> str:
    """Enter that a drill was stopped for pain, or because the aid was struck or sprang back."""
    _named("student", student_id)
    _named("drill", drill_id)
    _one_of("kind", kind, STOPS)
    values = {"student_id": student_id, "drill_id": drill_id, "kind": kind, "at": _local(at)}
    return enter(store, "stop_entry", by, values, entry_id)


def observe(
    store: Store, *, student_id: str, observed_at: datetime, measure: str, value: float, by: str,
    coach_id: str | None = None, own_measures: Path | None = None, entry_id: str | None = None,
) -> str:  # fmt: skip
    """Enter what was seen, in the measure's unit."""
    _named("student", student_id)
    known = measures(own_measures)
    _one_of("measure", measure, tuple(known["measure"]))
    listed = known.row(by_predicate=pl.col("measure") == measure, named=True)
    if not listed["low"] <= value <= listed["high"]:
        between = f"{listed['low']:g} and {listed['high']:g} {listed['unit']}"
        raise NotebookRefused(f"{measure} must be between {between}; check the number and its unit.")
    values = {
        "student_id": student_id, "observed_at": _local(observed_at), "measure": measure, "value": float(value),
        "unit": listed["unit"], "coach_id": coach_id,
    }  # fmt: skip
    return enter(store, "observation", by, values, entry_id)


def set_goal(
    store: Store, *, student_id: str, words: str, metric: str, club_group: str, target: float, by: str,
    by_date: date | None = None, entry_id: str | None = None,
) -> str:  # fmt: skip
    """Enter a student's goal in their words, with the number that shows it."""
    _named("student", student_id)
    _one_of("metric", metric, tuple(METRIC))
    _one_of("club group", club_group, (*CLUB_GROUPS, "any"))
    if not words.strip() or len(words) > MOST_WORDS:
        raise NotebookRefused(f"A goal is between 1 and {MOST_WORDS} characters long; write it in a sentence.")
    if not (math.isfinite(target) and METRIC[metric].low <= target <= METRIC[metric].high):
        limits = f"{METRIC[metric].low:g} and {METRIC[metric].high:g} {METRIC[metric].unit}"
        raise NotebookRefused(f"The target must be between {limits}; check the number and its unit.")
    values = {
        "student_id": student_id, "words": words.strip(), "metric": metric, "club_group": club_group,
        "target": float(target), "by_date": by_date,
    }  # fmt: skip
    return enter(store, "goal", by, values, entry_id)


def hold(
    store: Store, *, student_id: str, until: date, by: str, drill_id: str | None = None,
    aim_metric: str | None = None, entry_id: str | None = None,
) -> str:  # fmt: skip
    """Enter "not for this student until": a drill or an aim; why is not asked and has no place to be written."""
    _named("student", student_id)
    if bool(drill_id) == bool(aim_metric):
        raise NotebookRefused("Either one drill or one aim is held; give one of the two.")
    if aim_metric:
        _one_of("aim", aim_metric, tuple(METRIC))
    values = {"student_id": student_id, "drill_id": drill_id, "aim_metric": aim_metric, "until": until}
    return enter(store, "hold", by, values, entry_id)


def holds_on(store: Store, day: date) -> pl.DataFrame:
    """Return the holds in force on a day: student_id, drill_id, aim_metric, until."""
    held = current(store, "hold").filter(pl.col("until") > day)
    return held.select("student_id", "drill_id", "aim_metric", "until")


def record_use(store: Store, *, who: str, what: str, detail: str) -> str:
    """Enter that someone ran SQL or downloaded something."""
    _one_of("use", what, USES)
    now = datetime.now(UTC).replace(tzinfo=None)
    return enter(store, "usage", who, {"who": who, "what": what, "detail": detail, "at": now})


def _end(store: Store, table: str, entry_id: str, ends_at: datetime, by: str) -> str:
    # The device may hold the id of an entry that was corrected meanwhile: what it began is found by the first.
    first = history(store, table).filter(pl.col("entry_id") == entry_id)["first_entry_id"]
    begun = current(store, table).filter(pl.col("first_entry_id").is_in(first.to_list()))
    if begun.is_empty():
        raise NotebookRefused("There is no such entry, or it was taken back meanwhile; look at the notebook again.")
    _span(begun["starts_at"].item(), ends_at)
    return fill(store, table, entry_id, by, "ends_at", _local(ends_at))


def _local(moment: datetime) -> datetime:
    if moment.tzinfo is not None:
        raise NotebookRefused("Times are the site's local time, without a zone; take the zone off.")
    return moment


def _span(starts_at: datetime, ends_at: datetime | None) -> dict[str, datetime | None]:
    if ends_at is not None and _local(ends_at) <= _local(starts_at):
        raise NotebookRefused("It would end before it began; check the two times.")
    return {"starts_at": _local(starts_at), "ends_at": ends_at}


def _named(what: str, value: str) -> None:
    if not value or not value.strip():
        raise NotebookRefused(f"No {what} is given; choose one.")


def _one_of(what: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        raise NotebookRefused(f"{value!r} is not a {what}; choose one of: {', '.join(allowed)}.")
