"""Which term a day belongs to, and which of its weeks are compared. Dates reckoned by hand with a calendar."""

from __future__ import annotations

from datetime import date, timedelta

import polars as pl
import pytest

from warehouse.domain.change.cohort_change import Windows
from warehouse.domain.change.terms import Term, term_windows, terms_at

MONDAY = date(2026, 1, 5)
NO_TERMS = pl.DataFrame(schema={"name": pl.String, "from_date": pl.Date, "to_date": pl.Date})
NOBODY = pl.DataFrame(
    schema={"student_id": pl.String, "cohort": pl.String, "from_date": pl.Date, "to_date": pl.Date}
)  # fmt: skip
AUTUMN = ("Autumn", date(2025, 9, 8), date(2025, 12, 12))
WINTER = ("Winter", date(2026, 1, 5), date(2026, 3, 27))
SPRING = ("Spring", date(2026, 4, 13), date(2026, 6, 26))


def terms(*rows: tuple[str, date, date]) -> pl.DataFrame:
    """Return the academy's terms."""
    return pl.DataFrame(rows, schema=NO_TERMS.schema, orient="row")


def enrolled(*rows: tuple[str, date, date | None]) -> pl.DataFrame:
    """Return ten students a row: cohort, from, to."""
    every = [(f"{cohort}{n}", cohort, begin, end) for cohort, begin, end in rows for n in range(10)]
    return pl.DataFrame(every, schema=NOBODY.schema, orient="row")


@pytest.mark.parametrize(
    ("last", "now", "before"),
    [
        (date(2026, 2, 14), "Winter", "Autumn"),
        (date(2026, 4, 3), "Winter", "Autumn"),  # between two terms: the one that ended
        (date(2026, 4, 13), "Spring", "Winter"),
        (date(2025, 9, 8), "Autumn", None),
    ],
)
def test_the_academys_own_terms_say_which_it_is(last: date, now: str, before: str | None) -> None:
    found = terms_at(terms(AUTUMN, WINTER, SPRING), NOBODY, date(2025, 9, 8), last)
    assert (found[0].name, found[1] and found[1].name) == (now, before)
    assert found[0].source == "academy"


def test_without_terms_the_day_most_of_todays_students_began_is_the_first() -> None:
    cohorts = enrolled(("winter", MONDAY, date(2026, 2, 22)), ("spring", date(2026, 2, 23), None))
    now, before = terms_at(NO_TERMS, cohorts, MONDAY, date(2026, 4, 11))
    assert now == Term("", date(2026, 2, 23), date(2026, 4, 11), "cohorts")
    assert before == Term("", MONDAY, date(2026, 2, 22), "cohorts")


def test_students_who_came_one_by_one_make_no_term_and_twelve_weeks_roll() -> None:
    came = pl.DataFrame(
        [(f"S{n}", "all year", MONDAY - timedelta(days=9 * n), None) for n in range(20)],
        schema=NOBODY.schema, orient="row",
    )  # fmt: skip
    now, before = terms_at(NO_TERMS, came, date(2025, 1, 6), date(2026, 4, 11))
    assert now == Term("", date(2026, 1, 19), date(2026, 4, 11), "weeks")  # the twelfth Monday back, itself counted
    assert before is None


def test_a_term_is_held_against_its_own_start_and_the_same_weeks_of_the_last() -> None:
    last = date(2026, 2, 28)  # a Saturday: day 55 of the winter term, 7 whole weeks
    found = term_windows(Term(*WINTER, "academy"), Term(*AUTUMN, "academy"), date(2025, 9, 8), last)
    assert found["term"] == Windows(MONDAY, date(2026, 1, 25), date(2026, 2, 8), last)
    latest = date(2026, 2, 1)
    assert (latest - MONDAY).days == 27
    assert found["last_term"] == Windows(date(2025, 10, 5), date(2025, 11, 1), latest, last)
    assert found["recent"] == Windows(date(2026, 1, 4), date(2026, 1, 31), latest, last)


@pytest.mark.parametrize("days", [*range(0, 120, 7), 3, 58])
def test_no_window_reads_past_the_last_day_with_data(days: int) -> None:
    last = MONDAY + timedelta(days=days)
    found = term_windows(Term(*WINTER, "academy"), Term(*AUTUMN, "academy"), date(2025, 9, 8), last)
    assert found
    for windows in found.values():
        assert windows.before_from <= windows.before_to < windows.after_from <= windows.after_to <= last


def test_a_term_of_one_week_is_not_held_against_its_own_start() -> None:
    found = term_windows(Term(*WINTER, "academy"), None, MONDAY, MONDAY + timedelta(days=6))
    assert "term" not in found
