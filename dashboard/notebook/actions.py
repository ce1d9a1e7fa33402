"""What a tap does: one function a button, called before the page is drawn again; each writes once.

A button's key holds the id that its entry will have, so that a second tap of the same drawn button, a rerun or a tap
sent twice writes the same entry again, which changes nothing. Not here: how the page looks (app_pages/notebook.py).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import streamlit as st
from sqlalchemy.exc import SQLAlchemyError

from dashboard.notebook import bay_and_student
from dashboard.notebook import store as notebook_store
from dashboard.shell import access
from dashboard.shell.home_view import Home
from dashboard.shell.outside_text import neutralise_markdown
from dashboard.text import notebook as words
from dashboard.text import notebook_sentences
from warehouse.notebook import actions
from warehouse.notebook.overlaps import overlapping
from warehouse.notebook.store import NotebookRefused, Store, correct, withdraw

SAID = "notebook-said"
UNDO = "notebook-undo"
SLIP = timedelta(seconds=3)
"""A drill that would end sooner after its beginning was tapped twice by mistake."""


@dataclass(frozen=True)
class Place:
    """Where and whose: the bay with its site's time zone, and the student."""

    home: Home
    bay_id: str
    timezone: str
    student_id: str

    @property
    def store(self) -> Store:
        """Return the notebook."""
        return notebook_store.opened(self.home)

    def now(self) -> datetime:
        """Return the site's local time."""
        return notebook_store.now(self.timezone)

    def ticket(self, what: str) -> str:
        """Return the id of the next entry of a kind in this bay for this student."""
        return notebook_store.ticket(self.name(what))

    def name(self, what: str) -> str:
        """Return the ticket's name."""
        return f"{what}/{self.bay_id}/{self.student_id}"


def say(kind: str, text: str) -> None:
    """Keep a word for the top of the page drawn next: kind is done, stopped or refused."""
    st.session_state[SAID] = (kind, text)


def attempt(write: Callable[[], Any], done: str = words.WRITTEN, kind: str = "done") -> bool:
    """Write to the notebook and say what came of it; return whether it is written."""
    try:
        write()
    except NotebookRefused as refused:
        say("refused", neutralise_markdown(str(refused)))
        return False
    except (SQLAlchemyError, OSError):
        say("refused", words.NOT_WRITTEN)
        return False
    say(kind, done)
    return True


def enter(
    place: Place, what: str, ticket: str, action: Callable[..., Any], table: str = "", done: str = words.WRITTEN,
    **values: Any,
) -> None:  # fmt: skip
    """Add a first entry under the id that the tapped button had; with its table, the message lets it be undone."""
    by = access.current().who
    if attempt(lambda: action(place.store, by=by, entry_id=ticket, **values), done):
        notebook_store.spend(place.name(what))
        if table:
            st.session_state[UNDO] = (place, table, ticket)


def undo(place: Place, table: str, entry_id: str) -> None:
    """Take back what was entered last; an entry that was only ended runs on."""
    row, by = standing(place, table, entry_id), access.current().who
    if row is None:
        say("refused", words.CHANGED_MEANWHILE)
    elif row["corrects"] is not None and row.get("ends_at") is not None:
        attempt(lambda: correct(place.store, table, entry_id, by, ends_at=None), words.UNDONE)
    else:
        attempt(lambda: withdraw(place.store, table, entry_id, by), words.UNDONE)


def begin(place: Place, ticket: str, drill_id: str, chosen_by: str) -> None:
    """A drill begins now."""
    enter(
        place, "begin", ticket, actions.begin_drill, "drill_entry", drill_id=drill_id, starts_at=place.now(),
        chosen_by=chosen_by, student_id=place.student_id, bay_id=place.bay_id,
    )  # fmt: skip


def standing(place: Place, table: str, entry_id: str) -> dict[str, Any] | None:
    """Return an entry as it stands, if it is still the last of its corrections and not taken back."""
    rows = notebook_store.standing(place.store, table, entry_id)
    return rows.row(0, named=True) if rows.height else None


def meets(place: Place, names: dict[str, str], starts_at: datetime, ends_at: datetime, but: str | None = None) -> bool:
    """Say which drill of this student runs at that time already; return whether one does."""
    met = overlapping(place.store, place.student_id, starts_at, ends_at, but)
    if met is not None:
        say("refused", notebook_sentences.overlaps(met, names.get(met["drill_id"], met["drill_id"])))
    return met is not None


def end(place: Place, entry_id: str) -> None:
    """A drill ends now, unless it ended already."""
    row = standing(place, "drill_entry", entry_id)
    if row is None or row["ends_at"] is not None:
        return
    if place.now() - row["starts_at"] < SLIP:
        say("refused", words.TOO_SOON)
        return
    _end(place, "drill_entry", lambda by: actions.end_drill(place.store, entry_id, ends_at=place.now(), by=by))


def _end(place: Place, table: str, action: Callable[[str], str]) -> None:
    """Let something end, and let that be undone."""
    by, made = access.current().who, []
    if attempt(lambda: made.append(action(by))):
        st.session_state[UNDO] = (place, table, made[0])


def stop(place: Place, ticket: str, entry_id: str, drill_id: str, kind: str) -> None:
    """A drill is stopped now: why is entered first, then its end."""
    by, at = access.current().who, place.now()
    stopped = attempt(
        lambda: actions.record_stop(
            place.store, student_id=place.student_id, drill_id=drill_id, kind=kind, at=at, by=by, entry_id=ticket
        ),
        words.STOPPED,
        "stopped",
    )
    if not stopped:
        return
    notebook_store.spend(place.name(f"stop-{kind}"))
    row = standing(place, "drill_entry", entry_id)
    if row is not None and row["ends_at"] is None:
        ends_at = max(at, row["starts_at"] + timedelta(seconds=1))
        attempt(lambda: actions.end_drill(place.store, entry_id, ends_at=ends_at, by=by), words.STOPPED, "stopped")


def mark(place: Place, ticket: str, kind: str, moved_to: str | None = None) -> None:
    """A stretch begins now that is not the student's own full swings, or the student moves to another bay."""
    enter(
        place, f"mark-{kind}", ticket, actions.mark, "set_aside", bay_id=place.bay_id, student_id=place.student_id,
        kind=kind, starts_at=place.now(), moved_to_bay_id=moved_to,
    )  # fmt: skip
    if moved_to and st.session_state[SAID][0] == "done":
        bay_and_student.keep_bay(moved_to)


def end_mark(place: Place, entry_id: str) -> None:
    """A marked stretch ends now, unless it ended already."""
    row = standing(place, "set_aside", entry_id)
    if row is None or row["ends_at"] is not None:
        return
    ends_at = max(place.now(), row["starts_at"] + timedelta(seconds=1))
    _end(place, "set_aside", lambda by: actions.end_mark(place.store, entry_id, ends_at=ends_at, by=by))


def mend(place: Place, table: str, entry_id: str, changes: dict[str, Any], names: dict[str, str] | None = None) -> None:
    """Correct an entry, unless it was corrected meanwhile or would meet another drill of the student."""
    row = standing(place, table, entry_id)
    if row is None:
        say("refused", words.CHANGED_MEANWHILE)
        return
    ends, starts = changes.get("ends_at"), changes.get("starts_at")
    if ends is not None and starts is not None and ends <= starts:
        say("refused", "It would end before it began; check the two times.")
        return
    moved = table == "drill_entry" and (starts, ends) != (row["starts_at"], row["ends_at"])
    if moved and starts and ends and meets(place, names or {}, starts, ends, row["first_entry_id"]):
        return
    attempt(lambda: correct(place.store, table, entry_id, access.current().who, **changes))


def take_back(place: Place, table: str, entry_id: str) -> None:
    """Take an entry back; what was entered stays in the notebook."""
    attempt(lambda: withdraw(place.store, table, entry_id, access.current().who))


def stand_again(place: Place, table: str, entry_id: str) -> None:
    """Let an entry stand again that was taken back."""
    attempt(lambda: correct(place.store, table, entry_id, access.current().who))
