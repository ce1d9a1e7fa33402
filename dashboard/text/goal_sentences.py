"""Sentences about one student's number: where it stands, whether it moved beyond day-to-day noise, what is wanted.

Not here: the change itself (warehouse/domain/change/student_change.py); cohorts, forecasts and sessions
(people_sentences.py).
"""

from __future__ import annotations

from dashboard.shell.number_format import Shown, missing
from dashboard.text.drill_sentences import Row, count, day, first_up, number_name

ENOUGH_SESSIONS = 4
"""With more sessions than this, a missing comparison is not for want of sessions."""


def goal(row: Row, shown: Shown) -> str:
    """Say where a student stands on a goal number (query student_goals)."""
    name = number_name(shown, row["club_group"])
    if missing(row["latest_centre"]):
        seen = f"{first_up(name)}: {count(row['sessions'], 'session')} so far; "
        if row["sessions"] > ENOUGH_SESSIONS:
            return seen + "no change from first to latest is published for this number."
        return seen + "a change can be told from day-to-day noise after a few more."
    text = f"{first_up(name)} is now {shown.value(row['latest_centre'])}"
    if missing(row["change"]):
        return text + "; there is no earlier block to compare it with yet."
    text += f", {shown.change(row['change'])} since {day(row['first_week'])}"
    if not missing(row["ci_low"]):
        text += f" (95% {shown.interval(row['ci_low'], row['ci_high'])})"
    if missing(row["minimal_detectable_change"]):
        return text + "."
    usual = f"this student's usual day-to-day difference ({shown.size(row['minimal_detectable_change'])})"
    return f"{text}{held_against(row, shown, usual)}{way_of(row) if row['beyond'] else ''}."


def held_against(row: Row, shown: Shown, usual: str) -> str:
    """Say whether a change is more than `usual` once what practice alone gives is taken off (query student_goals)."""
    left = row["change_beyond_expected"]
    told = f"more than {usual}" if row["beyond"] else f"which cannot be told from {usual}"
    if missing(left):
        return f", {told}"
    return f"; less what practice alone would have given it is {shown.change(left)}, {told}"


def way_of(row: Row) -> str:
    """Return which way a student's number went, where one way is better (query student_goals)."""
    moved = row["change"] if missing(row["change_beyond_expected"]) else row["change_beyond_expected"]
    number = row["distance_change"] if row["better"] == "zero" else moved
    if row["better"] is None or missing(number):
        return ""
    return ", the better way" if (number > 0) == (row["better"] == "up") else ", the worse way"


def own_goal(row: Row, shown: Shown) -> str:
    """Say what a student wants, in their words (query student_goal)."""
    target = "" if missing(row["target"]) else f", target {shown.value(row['target'])}"
    by = "" if row["by_date"] is None else f", by {day(row['by_date'])}"
    return f"Own goal: “{row['words']}” ({number_name(shown, row['club_group'])}{target}{by})."
