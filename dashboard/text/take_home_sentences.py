"""Sentences of the page to take home, in plain words to the student; no drill is judged and no distance promised."""

from __future__ import annotations

from dashboard.shell.number_format import Shown, missing
from dashboard.text import notebook as words
from dashboard.text.drill_sentences import Row, count, day, first_up, number_name
from dashboard.text.goal_sentences import held_against


def worked(row: Row) -> str:
    """Say how often a drill was done: {name, times, last}."""
    return f"{row['name']}: {count(row['times'], 'time')}, last on {day(row['last'])}."


def current(row: Row) -> str:
    """Say through which day the page is current (query publication)."""
    return f"Through {day(row['through_night'])}."


def changed(row: Row, shown: Shown) -> str:
    """Say what a number was and is, and whether that is more than the usual day-to-day difference (student_goals)."""
    if missing(row["latest_centre"]) or missing(row["change"]):
        return words.NO_CHANGE
    name = first_up(number_name(shown, row["club_group"]))
    text = (
        f"{name}: {shown.value(row['first_centre'])} in the first sessions ({day(row['first_week'])}), "
        f"{shown.value(row['latest_centre'])} in the latest. That is a difference of {shown.size(row['change'])}"
    )
    if missing(row["minimal_detectable_change"]):
        return text + "; how much these sessions differ from day to day is not known yet."
    usual = f"my usual day-to-day difference ({shown.size(row['minimal_detectable_change'])})"
    return f"{text}{held_against(row, shown, usual)}{'' if row['beyond'] else ' yet'}."
