"""Sentences on what changes of set-up went with: an association, said so in each."""

from __future__ import annotations

from collections.abc import Sequence

from dashboard.shell.number_format import Shown, missing
from dashboard.text import attention as words
from dashboard.text.drill_sentences import Row, count, first_up, lower_first
from dashboard.text.words import CLUB_GROUPS


def went_with(row: Row, end: str = "slope") -> float | None:
    """Return the change of the metric that went with a typical change of the observation (or an interval's end)."""
    return None if missing(row[end]) else row[end] * row["typical_change"]


def observed(row: Row) -> str:
    """Return what was observed, with its clubs."""
    return f"{row['measure']} ({CLUB_GROUPS[row['club_group']]})"


def line(row: Row, shown: Shown) -> str:
    """Say how changes of one observation went with changes of the number (query setup_association)."""
    students, pairs = count(row["students"], "student"), count(row["pairs"], "pair")
    if row["finding"] == "too few" or missing(row["slope_low"]):
        return words.SETUP_FEW.format(measure=first_up(observed(row)), students=students, pairs=pairs)
    return words.SETUP_TOLD.format(
        measure=first_up(observed(row)),
        typical=f"{row['typical_change']:.3g}",
        unit=row["unit"],
        number=shown.label,
        change=shown.change(went_with(row)),
        interval=shown.interval(went_with(row, "slope_low"), went_with(row, "slope_high")),
        students=students,
        pairs=pairs,
        finding=words.SETUP_FINDINGS[row["finding"]],
    )


def lead(rows: Sequence[Row], name: str) -> str:
    """Say which changes of set-up went with a number, or that none did (query setup_association)."""
    told = [row for row in rows if row["finding"] != "too few"]
    if not told:
        return words.SETUP_EMPTY
    going = [observed(row) for row in told if row["finding"] == "goes with"]
    found = (
        words.SETUP_GOING.format(measures=", ".join(going), number=lower_first(name))
        if going
        else words.SETUP_NONE.format(number=lower_first(name))
    )
    return words.SETUP_LEAD.format(told=count(len(told), "observation"), going=found)
