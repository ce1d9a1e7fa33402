"""Sentences with numbers: one function each, from the same row that the picture draws. Fixed text: words.py.

Rows are dicts with the columns of the query named in each function.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from dashboard.shell.number_format import Shown, digits, missing
from dashboard.text import carry, words

Row = dict[str, Any]
UP_DOWN = {True: "rose", False: "fell"}


def count(number: int | float, one: str, many: str | None = None) -> str:
    """Return a count with its noun: 1 student, 31 students."""
    return f"{digits(number, 0)} {one if number == 1 else (many or one + 's')}"


def day(when: date | datetime | None) -> str:
    """Return a date in words: 14 March 2025."""
    return "no day yet" if when is None else f"{when.day} {when:%B %Y}"


def short_day(when: date | datetime | None) -> str:
    """Return a date as it stands in a table: 14 Mar 2025."""
    return "" if when is None else f"{when.day} {when:%b %Y}"


def short_span(first: date | datetime | None, last: date | datetime | None) -> str:
    """Return two dates as they stand in a table: 10 Mar to 1 Apr 2025."""
    begun = short_day(first)
    if first is not None and last is not None and first.year == last.year:
        begun = begun.removesuffix(f" {first.year}")
    return f"{begun} to {short_day(last)}"


def number_name(shown: Shown, club_group: str) -> str:
    """Return a number with its clubs: driver attack angle, club path with irons."""
    if club_group == "driver":
        return f"driver {shown.label}"
    outside = shown.metric == "carry_gap" and club_group in carry.OUTSIDE_GROUPS
    marked = f" ({carry.OUTSIDE_MEASURED})" if outside else ""
    return f"{shown.label} with {words.CLUB_GROUPS[club_group]}{marked}"


def subject(shown: Shown, club_group: str, measure: str) -> str:
    """Return what a row measures, as the subject of a sentence."""
    name = number_name(shown, club_group)
    return {"centre": name, "distance": f"distance from the target of {name}", "spread": f"spread of {name}"}[measure]


def first_up(text: str) -> str:
    """Return the text with its first letter in upper case, the rest as it is."""
    return text[:1].upper() + text[1:]


def moved(number: float, shown: Shown, measure: str = "centre") -> str:
    """Return rose, fell or stayed, with the size; of a distance also whether that is nearer."""
    if shown.change(number) == shown.change(0):
        return f"stayed the same (to {shown.size(10**-shown.change_decimals * shown.per)})"
    side = "" if measure != "distance" else " (farther)" if number > 0 else " (nearer)"
    return f"{UP_DOWN[number > 0]} {shown.size(number)}{side}"


def verdict_words(verdict: str | None, shown: Shown) -> str:
    """Return a verdict in words that cannot be misread; a side effect without a better direction has none."""
    if verdict is None:
        return "no better direction is set"
    return words.VERDICTS[verdict].format(matters=shown.matters())


def effect(row: Row, shown: Shown) -> str:
    """Say what a drill did beyond free practice (queries drill_comparison, drill_effects)."""
    when = "Next session, " if row["horizon"] == "retention" else ""
    name = first_up(f"{when}{subject(shown, row['club_group'], row['measure'])}")
    if missing(row["effect"]):
        why = row["not_estimable_reason"] or row["verdict_reason"] or "too few students with balls before and after"
        return f"{name}: no effect can be given yet ({why})."
    sure = (
        f"(95% {shown.interval(row['ci_low'], row['ci_high'])}), {count(row['students'], 'student')}, "
        f"{row['certainty'] or 'no'} certainty."
    )
    if when:
        return f"{name} stood {shown.change(row['effect'])} beyond free practice {sure}"
    return f"{name} {moved(row['effect'], shown, row['measure'])} beyond free practice {sure}"


def effect_in_list(row: Row, shown: Shown) -> str:
    """Say one line of the forest plot in words (query drill_comparison)."""
    when = words.HORIZONS[row["horizon"]]
    if missing(row["effect"]) or missing(row["ci_low"]):
        why = row["verdict_reason"] or row["not_estimable_reason"] or "too few students"
        return f"{row['name']}, {when}: no interval yet ({why})."
    return (
        f"{row['name']}, {when}: {shown.change(row['effect'])} beyond free practice "
        f"(95% {shown.interval(row['ci_low'], row['ci_high'])}); {words.NAIVE} {shown.change(row['naive_change'])}; "
        f"{count(row['students'], 'student')}, {count(row['episodes'], 'episode')}; "
        f"{verdict_words(row['verdict'], shown)}; {row['certainty'] or 'no'} certainty."
    )


def judged(rows: list[Row]) -> list[Row]:
    """Return the rows of the same session that have a verdict on a drill's aim (query drill_comparison)."""
    return [row for row in rows if row["horizon"] == "transfer" and row["is_aim"] and row["verdict"]]


def all_early(rows: list[Row]) -> bool:
    """Return whether every verdict is too early, and there is one."""
    verdicts = {row["verdict"] for row in judged(rows)}
    return verdicts == {"too early"}


def best_drill(rows: list[Row], shown: Shown, club_group: str) -> str:
    """Say which drill is best supported for a number, or that none stands out (query drill_comparison)."""
    tested = judged(rows)
    name = number_name(shown, club_group)
    for verdict in ("works", "helps"):
        good = [row for row in tested if row["verdict"] == verdict]
        if good:
            best = max(good, key=lambda row: abs(row["shrunk_effect"] or row["effect"]))
            others = (
                f" {first_up(count(len(good) - 1, 'other drill'))} also {verdict_plural(verdict, len(good) - 1)}."
                if len(good) > 1
                else ""
            )
            return (
                f"**{best['name']}** is best supported: {lower_first(effect(best, shown))[:-1]}; "
                f"{verdict_words(verdict, shown)}.{lasts(best, rows, shown)}{others}"
            )
    if all_early(rows):
        return f"It is too early to say which drill moves {name}: no drill has 10 students and 20 episodes yet."
    if len(tested) == 1:
        return f"No drill stands out for {name}: {tested[0]['name']} is not surely better than free practice."
    return f"No drill stands out for {name}: none of {len(tested)} is surely better than free practice."


def lasts(best: Row, rows: list[Row], shown: Shown) -> str:
    """Say whether a drill's effect is still there next session (query drill_comparison)."""
    later = [row for row in rows if row["horizon"] == "retention" and row["drill_id"] == best["drill_id"]]
    if not later or missing(later[0]["effect"]) or missing(later[0]["ci_low"]):
        return " Whether it is still there next session is not known yet."
    row = later[0]
    return (
        f" Next session {shown.change(row['effect'])} (95% {shown.interval(row['ci_low'], row['ci_high'])}); "
        f"{verdict_words(row['verdict'], shown)}."
    )


def often(a_week: float) -> str:
    """Return how often in words that fit any number: about once a week, 4 times a week."""
    if round(a_week) == 1:
        return "about once a week"
    return f"{digits(a_week, 0)} times a week" if a_week > 1 else "less than weekly"


def verdict_plural(verdict: str, drills: int) -> str:
    """Return the verdict's verb for one or more drills."""
    return verdict if drills == 1 else verdict[:-1]


def lower_first(text: str) -> str:
    """Return the text with its first letter in lower case."""
    return text[:1].lower() + text[1:]


def free_practice_gave(row: Row, shown: Shown) -> str:
    """Say what the plain difference would have claimed and what practice alone gives (query drill_effects)."""
    if missing(row["naive_change"]) or missing(row["free_change"]):
        return ""
    return (
        f"{first_up(words.NAIVE)}, the change is {shown.change(row['naive_change'])}; free practice alone would have "
        f"given "
        f"{shown.change(row['free_change'])}."
    )


def comparator(row: Row) -> str:
    """Say what the drill was compared with (query drill_effects)."""
    alone, coached = row["comparator_alone"] or 0, row["comparator_with_coach"] or 0
    if not alone + coached:
        return ""
    if row["comparator"]:
        return first_up(row["comparator"]).rstrip(".") + "."
    text = (
        f"Compared with {count(alone, 'stretch', 'stretches')} of practice alone and {count(coached, 'lesson')} "
        f"without a "
        f"drill"
    )
    if missing(row["effect_beyond_lesson"]):
        return text + "; the effect includes the coach's attention."
    return text + "."


def mishits(row: Row) -> str:
    """Say what happened to lost balls (query drill_side_effects)."""
    kind = words.SIDE_KINDS[row["outcome"]]
    if missing(row["effect"]) or missing(row["ci_low"]):
        return f"{first_up(kind)}: not enough balls to say ({count(row['students'], 'student')})."
    low, high = (digits(100 * row[end], 1) for end in ("ci_low", "ci_high"))
    sign = "" if row["effect"] < 0 else "+"
    return (
        f"{first_up(kind)} with {words.CLUB_GROUPS[row['club_group']]}: {percent(row['before'])} before, "
        f"{percent(row['after'])} after; {sign}{digits(100 * row['effect'], 1)} percentage points beyond free practice "
        f"(95% {low} to {high})."
    )


def percent(share: float | None) -> str:
    """Return a share as a percentage."""
    return "not known" if missing(share) else f"{digits(100 * share, 0)}%"


def responders(row: Row) -> str:
    """Say how many students surely respond, beside luck (query drill_effects)."""
    if missing(row["responder_share"]):
        return ""
    return (
        f"{percent(row['responder_share'])} of the students who did it twice or more surely gained more than matters; "
        f"the "
        f"same rule would name {percent(row['free_practice_responder_share'])} of free practice."
    )


def subgroup(row: Row, shown: Shown) -> str:
    """Say what a group of students got from a drill (query drill_subgroups)."""
    if missing(row["effect"]) or missing(row["ci_low"]):
        return f"{first_up(row['characteristic'])} {row['level']}: {row['finding'] or 'too few'}."
    return (
        f"{first_up(row['characteristic'])} {row['level']}: {shown.change(row['effect'])} "
        f"(95% {shown.interval(row['ci_low'], row['ci_high'])}), {count(row['students'], 'student')}; {row['finding']}."
    )


def effect_line(row: Row, shown: Shown) -> dict[str, str | int]:
    """Return one line of the drills' table, in display units (query drill_comparison)."""
    return {
        "drill": row["name"],
        "when": words.HORIZONS[row["horizon"]],
        "beyond free practice": shown.change(row["effect"]),
        "95% interval": shown.interval(row["ci_low"], row["ci_high"]),
        words.NAIVE: shown.change(row["naive_change"]),
        "students": row["students"],
        "episodes": row["episodes"],
        "verdict": verdict_words(row["verdict"], shown),
        "certainty": row["certainty"] or "",
        "why": row["verdict_reason"] or row["not_estimable_reason"] or row["certainty_reason"] or "",
    }


def stopped(row: Row) -> str:
    """Say how often a drill was stopped (query drill_stops)."""
    return f"Stopped {count(row['stops'], 'time')}: {row['kind']}, last on {day(row['last_on'])}."


def warnings(stops: list[Row], effects: list[Row], lost: list[Row], shown_of: Callable[[Row], Shown]) -> list[str]:
    """Say what to beware of before a drill is used (queries drill_stops, drill_effects, drill_side_effects)."""
    told = [stopped(row) for row in stops]
    told += [
        f"Wrong way ({words.HORIZONS[row['horizon']]}): it makes worse what it aims at, "
        f"{number_name(shown_of(row), row['club_group'])}."
        for row in effects
        if row["verdict"] == "wrong way"
    ]
    for row in lost:
        if row["warning"]:
            why = f" ({row['warning_reason']})" if row["warning_reason"] else ""
            told.append(f"More lost balls: {lower_first(mishits(row))}{why}")
    return told


def side_effect_reads(row: Row, shown: Shown) -> str:
    """Return a side effect with its interval, as it stands beside the mark."""
    return f"{shown.change(row['effect'])} ({shown.interval(row['ci_low'], row['ci_high'])})"


def drawn_only(row: Row, shown: Shown) -> str:
    """Say what the episodes chosen by lot show alone (query drill_effects)."""
    if missing(row["drawn_effect"]):
        return f"{percent(row['drawn_share'])} of the episodes were chosen by lot."
    return (
        f"{percent(row['drawn_share'])} of the episodes were chosen by lot; these alone show "
        f"{shown.change(row['drawn_effect'])} "
        f"(95% {shown.interval(row['drawn_low'], row['drawn_high'])})."
    )


def second_estimator(row: Row, shown: Shown) -> str:
    """Say what the check estimator found (query drill_effects)."""
    if missing(row["check_effect"]) or missing(row["check_low"]):
        return ""
    return (
        f"With each student's own free practice as control: {shown.change(row['check_effect'])} "
        f"(95% {shown.interval(row['check_low'], row['check_high'])})."
    )
