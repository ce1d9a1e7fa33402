"""The week's first screen: one short sentence, and what needs the director in groups, people before drills."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta

from dashboard.shell.number_format import Shown, missing
from dashboard.text import words
from dashboard.text.drill_sentences import Row, count, subject
from dashboard.text.people_sentences import side_of

GROUPS = {
    "Pain and struck aids": ("drill was stopped",),
    "Drills that harm": ("drill goes the wrong way", "drill has a side effect"),
    "Bays": ("bay is silent", "bay drifts", "bay clock is off"),
    "Students getting worse": ("student slides",),
    "Drills that do nothing, or cannot be told yet": ("drill changes nothing", "evidence is thin"),
}
"""Heading -> the kinds of mart.attention under it: people first."""
SHOWN = 3
NEW = "new"
YES, NO, BOTH, OPEN = "Yes.", "No: worse.", "Better and worse.", "Cannot tell yet."
MORE = "and {count} more"
NEEDS = "What needs you"
SAID_IN_FULL = "The same in full sentences"
LEVELS = "Before and after, number by number"
PRINT = "Print: two pages (HTML, no names)"


def verdict(rows: Sequence[tuple[Row, str | None]], shown: Callable[[str, str, str], Shown]) -> str:
    """Answer in one short sentence whether students are better: yes, no, both or cannot tell, and in which numbers.

    Beyond practice alone where that is known, else as it looks, and then says so; by cohort where there are any.
    """
    own = [pair for pair in rows if pair[0]["cohort"] != words.ALL_STUDENTS] or list(rows)
    known = [pair for pair in own if not missing(pair[0]["beyond_low"])]
    of = "beyond" if known else "ci"
    sides: dict[str, list[str]] = {"better": [], "worse": [], "open": []}
    for row, better in known or own:
        name = subject(shown(row["metric"], row["club_group"], row["measure"]), row["club_group"], row["measure"])
        sides[side_of(row, better, of)].append(name)
    up, down = (list(dict.fromkeys(sides[side])) for side in ("better", "worse"))
    basis = "beyond practice alone" if known else "as it looks"
    compared = count(len(known or own), "comparison")
    word = BOTH if up and down else YES if up else NO if down else OPEN
    told = [f"{side}: {', '.join(names)}" for side, names in (("better", up), ("worse", down)) if names]
    said = "; ".join(told) if told else f"none of {compared} is clear of no change"
    return f"**{word}** {said[:1].upper()}{said[1:]} ({basis})."


def grouped(things: Sequence[Row]) -> dict[str, list[Row]]:
    """Return what needs attention by its group, people first; empty groups are left out (query attention)."""
    known = {kind for kinds in GROUPS.values() for kind in kinds}
    groups = {title: [row for row in things if row["kind"] in kinds] for title, kinds in GROUPS.items()}
    groups["Else"] = [row for row in things if row["kind"] not in known]
    return {title: rows for title, rows in groups.items() if rows}


def is_new(row: Row, through: date | None) -> bool:
    """Return whether a thing came up since the Monday of the last night's week."""
    if row["since"] is None or through is None:
        return False
    return bool(row["since"] >= through - timedelta(days=through.weekday()))
