"""Words and sentences on terms: which it is, where its dates come from, and which weeks are compared."""

from __future__ import annotations

from dashboard.text.drill_sentences import Row, day

WHOLE = {
    "term": "All students this term: ",
    "last_term": "All students against the same weeks of last term: ",
    "recent": "All students, the latest weeks against those before: ",
}
FROM_COHORTS = "This term: from {begin}, when most students of today's cohorts began"
FROM_ACADEMY = "This term: {name}, {begin} to {end}"
FROM_WEEKS = "No terms are given (landing/academy/terms.csv), so the last twelve weeks count as one: from {begin}"


def term(rows: list[Row]) -> str:
    """Say which term it is and where its dates come from (query terms); empty where there is none."""
    now = next((row for row in rows if row["current"]), None)
    if now is None:
        return ""
    said = {"academy": FROM_ACADEMY, "cohorts": FROM_COHORTS, "weeks": FROM_WEEKS}[now["source"]]
    return said.format(name=now["name"], begin=day(now["from_date"]), end=day(now["to_date"])) + "."


def weeks(row: Row) -> str:
    """Say which weeks are compared (query cohort_change)."""
    first = f"{day(row['before_from'])} to {day(row['before_to'])}"
    return f"{first}, against {day(row['after_from'])} to {day(row['after_to'])}."


def cohort(row: Row) -> str:
    """Return a cohort's name as it stands in a list: one that nobody is in any more says so (query cohort_change)."""
    return str(row["cohort"]) if row["present"] else f"{row['cohort']} (ended)"
