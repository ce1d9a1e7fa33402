"""Sentences about what a trial would need, what to try next, and a student's four weeks; as trial_sentences.py."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard.shell.number_format import Shown, missing
from dashboard.text import trials as words
from dashboard.text.drill_sentences import Row, count, first_up, number_name, often, percent
from dashboard.text.trial_sentences import IS_ARE, Names, listed


def power(needs: Row, shown: Shown, agree: float) -> str:
    """Say what a trial needs here (the dict of planning.plan_of)."""
    matters = shown.matters()
    if needs["students"] is None:
        return f"No number of students would find a difference of {matters} four times in five."
    can = round(needs["candidates"] * agree)
    text = (
        f"**{count(needs['students'], 'student')}** find a difference of {matters}, the smallest that matters, four "
        f"times in five"
    )
    if needs["weeks"] is not None and needs["students"] <= can:
        return f"{text}; at this academy's pace that takes about {weeks(needs['weeks'])}."
    who = f"about {can} of {count(needs['candidates'], 'candidate')}"
    return f"{text}; {who} would take part here, so it would stay thin."


def weeks(number: float) -> str:
    """Return weeks in words."""
    return "a week" if number < 1.5 else f"{number:.0f} weeks"


def power_point(row: Row, shown: Shown) -> str:
    """Say one point of the curve (trial_power.CURVE)."""
    when = "" if missing(row["weeks"]) else f", about {weeks(row['weeks'])}"
    if missing(row["detectable"]) or missing(row["half_interval"]):
        return f"{row['students']} students: too few to tell anything{when}."
    return (
        f"{row['students']} students{when}: finds {shown.matters()} in {percent(row['power'])} of trials; finds "
        f"{shown.size(row['detectable'])} four times in five; 95% interval about ±{shown.size(row['half_interval'])}."
    )


def thin(row: Row, shown: Shown) -> str:
    """Say what a trial of this size would and would not tell (a row of trial_power.CURVE)."""
    if missing(row["detectable"]) or missing(row["half_interval"]):
        return f"With {row['students']} students nothing can be told: the groups would be too small."
    if row["power"] >= 0.8:
        return (
            f"With {count(row['students'], 'student')} a difference of {shown.matters()} is found in "
            f"{percent(row['power'])} of such trials; the 95% interval would be about "
            f"±{shown.size(row['half_interval'])}."
        )
    return (
        f"With {count(row['students'], 'student')} it would tell a difference of {shown.size(row['detectable'])} or "
        f"more, four times in five. A difference of {shown.matters()} would be found in {percent(row['power'])} of "
        f"such trials only: “unclear” would then not mean that the drills do the same. The 95% interval would be about "
        f"±{shown.size(row['half_interval'])}."
    )


def candidate(row: Row, names: Names, number: str) -> str:
    """Say why a trial would be worth its while, or why not (trial_value.CANDIDATE)."""
    first, second = (names.get(row[name], row[name]) for name in ("drill_id", "against"))
    head = f"**{first}** against **{second}**, for {number}: "
    if row["reason"]:
        return head + reason(row["reason"], names) + "."
    better, odds = (first, row["chance_better"]) if row["chance_better"] >= 0.5 else (second, 1 - row["chance_better"])
    used = often(row["uses_per_week"])
    said = f"{head}used {used}; by what is known, {better} is the better one with a chance of {percent(odds)}"
    if row["students"] is None:
        return f"{said}; how many students would tell is not known yet."
    if missing(row["weeks"]):
        return f"{said}; {row['students']} students would tell."
    return f"{said}; {row['students']} students would tell, in about {weeks(row['weeks'])}."


def reason(text: str, names: Names) -> str:
    """Return a reason with drills by name in place of their ids."""
    held = text.removesuffix(" is held")
    if held == text:
        return text
    named = [names.get(one, one) for one in held.split(", ")]
    return f"{listed(named)} {IS_ARE[len(named) == 1]} held for everybody"


def needs(row: Row) -> str:
    """Say in a few words what a trial needs, as it stands beside its bar."""
    if row["students"] is None:
        return "size not known yet"
    return f"{row['students']} students" + ("" if missing(row["weeks"]) else f", {weeks(row['weeks'])}")


def next_answer(ranked: Sequence[Row], names: Names, number: str) -> str:
    """Say which trial would change most decisions."""
    if not ranked:
        return words.NEXT_NONE_OPEN
    best = ranked[0]
    first, second = (names.get(best[name], best[name]) for name in ("drill_id", "against"))
    return (
        f"A trial of **{first}** against **{second}** for {number} would change most decisions "
        f"({needs(best)}). {first_up(count(len(ranked), 'pair'))} could be drawn now."
    )


def span(row: Row) -> str:
    """Return the weeks of a plan's line: Week 3, Weeks 1 and 2, Weeks 1 to 4."""
    first, last = row["from_week"], row["to_week"]
    if first == last:
        return f"Week {first}"
    return f"Weeks {first} {'and' if last == first + 1 else 'to'} {last}"


def week_plan(row: Row, name: str, shown: Shown, better: str) -> str:
    """Say one line of a student's four weeks, turned so that plus is the better way (trial_weeks.PLAN).

    Parameters
    ----------
    better
        Which way the number gets better, in words.
    """
    sign = 1.0 if row["gain"] * row["expected_effect"] >= 0 else -1.0
    low, high = sorted((sign * row["interval_low"], sign * row["interval_high"]))
    text = (
        f"{span(row)}: **{name}**, {number_name(shown, row['club_group'])}: expected "
        f"{shown.size(row['expected_effect'])} {better} beyond free practice the next time it is done "
        f"(80% {shown.interval(low, high)})."
    )
    return text + (" It may also do nothing." if low <= 0 else "")


def week_answer(rows: Sequence[Row], names: Names) -> str:
    """Say a student's four weeks in one sentence."""
    if not rows:
        return words.WEEKS_NONE
    told = listed([f"{names[row['drill_id']]} ({span(row).lower()})" for row in rows], "and then")
    return f"By what is known tonight: {told}. An expectation, not a promise."
