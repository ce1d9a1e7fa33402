"""A student's goal in their own words: the latest in the notebook, and how it is said. Entering: notebook_forms.py."""

from __future__ import annotations

from dashboard.notebook import store
from dashboard.shell.page_context import Reading
from dashboard.text import notebook_sentences
from dashboard.text.drill_sentences import Row
from dashboard.text.words import CLUB_GROUPS


def latest(read: Reading, student_id: str) -> Row | None:
    """Return the student's goal: the latest in the notebook, else the one that the night found."""
    own = store.of_student(store.opened(read.home), "goal", student_id)
    if own.is_empty():
        own = read.ask("student_goal", student_id=student_id)
    return own.row(0, named=True) if own.height else None


def sentence(read: Reading, row: Row) -> str:
    """Say a goal."""
    shown = read.shown(row["metric"], row["club_group"])
    number = f"{shown.label} ({CLUB_GROUPS[row['club_group']]})"
    return notebook_sentences.goal(row["words"], number, shown.value(row["target"]), row["by_date"])
