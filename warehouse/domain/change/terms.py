"""Which term it is and which weeks of it are compared: the academy's own terms, else its cohorts' dates, else weeks.

Not here: how a group changed between them (cohort_change.py).
"""

from __future__ import annotations

import datetime as dt
from typing import NamedTuple

import polars as pl

from warehouse.domain.change.cohort_change import WINDOW_WEEKS, Windows

DAY, WEEK = dt.timedelta(days=1), dt.timedelta(weeks=1)
ROLLING_WEEKS = 12
SHARED = 0.5
"""Share of the enrolled who must have begun on one day for that day to be a term's first."""


class Term(NamedTuple):
    """One term: `source` says where its dates come from; an open end is the last day with data."""

    name: str
    from_date: dt.date
    to_date: dt.date
    source: str


def terms_at(terms: pl.DataFrame, enrolments: pl.DataFrame, first: dt.date, last: dt.date) -> tuple[Term, Term | None]:
    """Return the term that a day belongs to, and the one before it.

    Parameters
    ----------
    terms
        `name, from_date, to_date` of the academy; may be empty. Sites with terms of their own: the earliest start to
        the latest end of those that hold the day.
    enrolments
        `student_id, cohort, from_date, to_date` (null: always, still).
    first, last
        First and last day with data.
    """
    return _academys(terms, last) or _cohorts(enrolments, last) or (_rolling(first, last), None)


def _academys(terms: pl.DataFrame, last: dt.date) -> tuple[Term, Term | None] | None:
    begun = terms.filter(pl.col("from_date") <= last)
    if begun.is_empty():
        return None
    # Between two terms it is still the one that ended last.
    held = begun.filter(pl.col("to_date") >= last)
    held = held if held.height else begun.filter(pl.col("to_date") == pl.col("to_date").max())
    now = _of(held, "academy")
    before = begun.filter(pl.col("to_date") < now.from_date)
    before = before.filter(pl.col("to_date") == pl.col("to_date").max())
    return now, _of(before, "academy") if before.height else None


def _of(rows: pl.DataFrame, source: str) -> Term:
    names = rows.sort("from_date")["name"].unique(maintain_order=True).to_list()
    begin, end = rows.select(pl.col("from_date").min(), pl.col("to_date").max()).row(0)
    return Term(" / ".join(names), begin, end, source)


def _cohorts(enrolments: pl.DataFrame, last: dt.date) -> tuple[Term, Term | None] | None:
    """Return the terms by when most of those enrolled began together."""
    dated = enrolments.drop_nulls("from_date")
    here = dated.filter((pl.col("from_date") <= last) & (pl.col("to_date").is_null() | (pl.col("to_date") >= last)))
    now = _shared(here, last)
    if now is None:
        return None
    gone = dated.drop_nulls("to_date").filter(pl.col("to_date") < now.from_date)
    return now, _shared(gone.filter(pl.col("to_date") == pl.col("to_date").max()), last) if gone.height else None


def _shared(rows: pl.DataFrame, last: dt.date) -> Term | None:
    """Return the stretch that at least half of these began on one day; None where they came one by one."""
    if rows.is_empty():
        return None
    begins, many = rows["from_date"].value_counts(sort=True).sort("count", "from_date", descending=True).row(0)
    if many < SHARED * rows.height or many < 2:
        return None
    ends = rows.filter(pl.col("from_date") == begins)["to_date"].drop_nulls().mode().sort()
    return Term("", begins, ends[-1] if ends.len() else last, "cohorts")


def _rolling(first: dt.date, last: dt.date) -> Term:
    monday = last - dt.timedelta(days=last.weekday())
    begin = max(monday - (ROLLING_WEEKS - 1) * WEEK, first - dt.timedelta(days=first.weekday()))
    return Term("", begin, last, "weeks")


def term_windows(now: Term, before: Term | None, first: dt.date, last: dt.date) -> dict[str, Windows]:
    """Return the pairs of windows: `term`, `last_term`, `recent`; a pair for which there are too few weeks is left out.

    No window reads past the last day with data. `term` is this term's first weeks against its latest, four of each at
    most; `last_term` its latest against the same weeks of the term before; `recent` the latest four against the four
    before them, whatever the term.
    """
    end = min(now.to_date, last)
    begin = max(now.from_date, first - dt.timedelta(days=first.weekday()))
    found: dict[str, Windows] = {}
    weeks = ((end - begin).days + 1) // 7
    size = min(WINDOW_WEEKS, weeks // 2)
    if size:
        found["term"] = Windows(begin, begin + size * WEEK - DAY, end - size * WEEK + DAY, end)
    size = min(WINDOW_WEEKS, weeks)
    if before is not None and size:
        since = before.from_date + ((end - size * WEEK + DAY) - now.from_date)
        since = min(since, before.to_date - size * WEEK + DAY)
        if since >= before.from_date:
            found["last_term"] = Windows(since, since + size * WEEK - DAY, end - size * WEEK + DAY, end)
    size = min(WINDOW_WEEKS, ((last - first).days + 1 + first.weekday()) // 14)
    if size:
        recent = Windows(last - 2 * size * WEEK + DAY, last - size * WEEK, last - size * WEEK + DAY, last)
        if recent not in found.values():
            found["recent"] = recent
    return found
