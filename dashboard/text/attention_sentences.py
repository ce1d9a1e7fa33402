"""Sentences on what needs attention and who is listed: kind and numbers in, words out; pages and review share them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from dashboard.shell.number_format import digits, missing
from dashboard.text import attention as words
from dashboard.text.drill_sentences import Row, count, day, first_up, often

Number = Callable[[str, str], str]
"""Metric and club group -> the number's name."""
COUNTED = {"drill was stopped": "time"}
RATE = 0.05
"""Of a list with false discoveries controlled at 5%, luck alone puts at most this share there."""


def luck(listed: float) -> str:
    """Say how many of a list luck alone would put there, at most."""
    return words.LUCK.format(number=digits(max(1, math.ceil(RATE * listed)), 0))


def attention(row: Row, number: Number) -> str:
    """Say what needs attention, dated (query attention)."""
    counted = row["counted"]
    amount = 0.0 if missing(row["amount"]) else row["amount"]
    text = words.ATTENTION[row["kind"]].format(
        name=row["shown_as"],
        number=number(row["metric"], row["club_group"]) if row["club_group"] else row["metric"],
        stop=row["metric"],
        counted=count(counted, COUNTED[row["kind"]]) if row["kind"] in COUNTED else counted,
        listed=counted,
        luck=luck(counted or 0),
        a_week=often(amount),
        seconds=digits(abs(amount), 0),
        way=words.AHEAD if amount > 0 else words.BEHIND,
        reason=first_up((row["reason"] or "").rstrip(".")),
    )
    dated = f"{day(row['since'])} · " if row["since"] else ""
    return f"{dated}**{first_up(row['kind'])}**: {first_up(text)}"


def listed_better(rows: Sequence[Row]) -> str:
    """Say how many students are listed as better (query students_listed)."""
    if not rows:
        return words.LISTED["none"]
    return words.LISTED["better"].format(students=count(len(rows), "student"), luck=luck(len(rows)))


def events_moved(students: int) -> str:
    """Say that some students' first sessions were moved by an event; empty where none were (query first_moved)."""
    return words.EVENTS_MOVED.format(students=count(students, "student")) if students else ""


def event_of_student(row: Row) -> str:
    """Say which event keeps a student's earlier sessions out of the comparison (query student_events)."""
    sessions = count(row["sessions"], "session")
    return words.EVENT_OF_STUDENT.format(sessions=sessions, day=day(row["on_date"]), kind=row["kind"])
