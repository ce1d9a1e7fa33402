"""What a reference table's rows must satisfy beyond their columns: names that exist elsewhere, orders, zones.

Not here: reading the files and typing the values (reference_file.py, reference.py).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from warehouse.landing.profile.profile import time_zones

Row = Mapping[str, Any]
Known = Mapping[str, frozenset[str]]
"""Table (raw's name without the schema) -> ids taken in so far."""


@dataclass(frozen=True)
class Broken:
    """One rule a row breaks: the column to look at, what is wrong, and what to do."""

    column: str
    problem: str
    remedy: str


POINTS_AT: dict[str, dict[str, tuple[str, str]]] = {
    "bay": {"site_id": ("site", "sites.csv")},
    "lesson": {
        "student_id": ("student", "students.csv"),
        "coach_id": ("coach", "coaches.csv"),
        "bay_id": ("bay", "bays.csv"),
    },
    "drill_log": {"lesson_id": ("lesson", "lessons.csv"), "drill_id": ("drill", "drills.csv")},
    "enrolment": {"student_id": ("student", "students.csv")},
    "term": {"site_id": ("site", "sites.csv")},
    "observation": {"student_id": ("student", "students.csv"), "coach_id": ("coach", "coaches.csv")},
}
"""Table -> column -> (table, file) in which its value must be an id."""

NEEDED = ("site", "bay", "student")
"""Tables without a usable row of which no ball can be attributed: that stops the load."""


def broken_reference(table: str, row: Row, known: Known) -> Broken | None:
    """Return the first id in a row that is in no table."""
    for column, (target, file) in POINTS_AT.get(table, {}).items():
        if row[column] is not None and row[column] not in known[target]:
            return Broken(column, f"no such {target}", f"add it to {file} or correct the row")
    if table == "event" and row["id"] not in known[row["scope"]]:
        return Broken("id", f"no such {row['scope']}", f"add it to {row['scope']}s.csv or correct the row")
    return None


def key_of(table: str, row: Row, key: tuple[str, ...]) -> tuple[Any, ...]:
    """Return what no other row of the table may have alike; drills without times are told apart by the drill."""
    untimed = table == "drill_log" and row["starts_at"] is None
    return tuple(row[column] for column in (*key, *(("drill_id",) if untimed else ())))


def _site(row: Row) -> Broken | None:
    if row["timezone"] in time_zones():
        return None
    return Broken("timezone", "no IANA time zone", "write one such as Europe/Lisbon")


def _interval(first: str, last: str) -> Callable[[Row], Broken | None]:
    def rule(row: Row) -> Broken | None:
        if row[last] is None or row[first] is None:
            return None
        if row[last] <= row[first]:
            return Broken(last, f"is not after {first}", "correct the times")
        if row[last] - row[first] > LONGEST:
            # It would claim every ball of its bay meanwhile.
            return Broken(last, f"is more than a day after {first}", "correct the times")
        return None

    return rule


def _observation(row: Row) -> Broken | None:
    if row["observed_at"] < dt.datetime.now() + LATEST:
        return None
    return Broken("observed_at", "has not come yet", "correct the time")


def _days(row: Row) -> Broken | None:
    if row["to_date"] is None or row["to_date"] >= row["from_date"]:
        return None
    return Broken("to_date", "is before from_date", "correct the dates")


def _drill(row: Row) -> Broken | None:
    if (row["aim_metric"] is None) != (row["aim_direction"] is None):
        return Broken("aim_direction", "aim_metric and aim_direction go together", "fill both or neither")
    if (row["aim_direction"] == "toward") != (row["aim_target"] is not None):
        return Broken("aim_target", "a target belongs to the direction toward, and only to it", "fill or empty it")
    return None


LONGEST = dt.timedelta(days=1)
"""Of a lesson or a drill."""
LATEST = dt.timedelta(days=2)
"""How far ahead of this machine's clock a site's may be, and a day."""
RULES: dict[str, Callable[[Row], Broken | None]] = {
    "site": _site,
    "drill": _drill,
    "lesson": _interval("starts_at", "ends_at"),
    "drill_log": _interval("starts_at", "ends_at"),
    "enrolment": _days,
    "observation": _observation,
    "term": _days,
}
"""Table -> the rule its rows must satisfy by themselves."""
