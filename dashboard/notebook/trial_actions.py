"""What a tap does in a drill trial: agreed, entered and drawn, declined, taken back. As notebook_taps.py."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import streamlit as st
from sqlalchemy.exc import SQLAlchemyError

from dashboard.notebook import actions
from dashboard.notebook.actions import Place
from dashboard.shell import access
from dashboard.shell.outside_text import neutralise_markdown
from dashboard.text import notebook
from dashboard.text import trials as words
from dashboard.trials import listing
from warehouse.notebook.store import NotebookRefused
from warehouse.trials import book, eligible, gates


def attempt(write: Callable[[], Any], done: str) -> None:
    """Write, and say what came of it; a secret that is not on this machine is said too."""
    try:
        write()
    except (NotebookRefused, FileNotFoundError, ValueError) as refused:
        actions.say("refused", neutralise_markdown(str(refused)))
    except (SQLAlchemyError, OSError):
        actions.say("refused", notebook.NOT_WRITTEN)
    else:
        actions.say("done", done)


def agree(place: Place, trial_id: str, agreed_by: str, agreed_on: date) -> None:
    """Write an agreement down, once, however often it is tapped."""
    by = access.current().who

    def write() -> None:
        if agreed_by not in listing.agreements(place.store, trial_id, place.student_id):
            book.agree(
                place.store, trial_id=trial_id, student_id=place.student_id, agreed_by=agreed_by, agreed_on=agreed_on,
                by=by,
            )  # fmt: skip

    attempt(write, notebook.WRITTEN)


def enter_and_draw(place: Place, trial_id: str, values: dict[str, Any]) -> None:
    """Enter the student for good and draw the lot."""
    by, on = access.current().who, place.now().date()
    attempt(
        lambda: book.enter_and_draw(
            place.store, place.home.folder, trial_id=trial_id, student_id=place.student_id, on=on, by=by, **values
        ),
        words.ENTERED_TOAST,
    )


def look_into(place: Place, trial_id: str, drills: list[str]) -> None:
    """Keep that the coach on site looked into the stops of these drills."""
    by = access.current().who

    def write() -> None:
        for drill in drills:
            gates.look_into(place.store, trial_id=trial_id, drill_id=drill, words=words.LOOKED_INTO, by=by)

    attempt(write, notebook.WRITTEN)


def decline(place: Place, trial_id: str, declined_by: str, reason_key: str, instead: str | None = None) -> None:
    """Keep that the student does not take part, or does something else, and why."""
    by, at = access.current().who, place.now()
    reason = st.session_state.get(reason_key) or ""
    attempt(
        lambda: book.decline(
            place.store, trial_id=trial_id, student_id=place.student_id, declined_by=declined_by, reason=reason, at=at,
            by=by, instead=instead,
        ),
        words.DECLINED,
    )  # fmt: skip
    if st.session_state[actions.SAID][0] == "done":
        st.session_state[reason_key] = ""


def outside(place: Place, trial_id: str, reason: str) -> None:
    """Keep that the student was looked at and may not take part."""
    by, on = access.current().who, place.now().date()
    attempt(
        lambda: eligible.keep(
            place.store, trial_id=trial_id, student_id=place.student_id, reason=reason, on=on, by=by
        ),
        notebook.WRITTEN,
    )  # fmt: skip


def take_back(place: Place, trial_id: str) -> None:
    """Take the agreement back."""
    by = access.current().who
    attempt(
        lambda: book.take_back(place.store, trial_id=trial_id, student_id=place.student_id, by=by), words.WITHDRAWN
    )  # fmt: skip
