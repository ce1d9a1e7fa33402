"""One row: the term that the last night belongs to, or the one before it, and where its dates come from."""

from __future__ import annotations

import polars as pl

from warehouse.domain.change import terms
from warehouse.settings.settings import Settings

SCHEMA = {
    "name": pl.String, "from_date": pl.Date, "to_date": pl.Date, "source": pl.String, "current": pl.Boolean,
}  # fmt: skip
READS = {
    "terms": "select term_id, name, from_date, to_date, site_id from raw.term order by all",
    "enrolments": "select student_id, cohort, from_date, to_date from mart.cohort_member order by all",
    "days": "select min(night) as first, max(night) as last from core.session",
}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Choose the terms as the comparisons of cohorts do."""
    first, last = frames["days"].row(0)
    made = []
    if first is not None:
        now, before = terms.terms_at(frames["terms"], frames["enrolments"], first, last)
        made = [term._asdict() | {"current": term is now} for term in (now, before) if term is not None]
    return pl.DataFrame(made, schema=SCHEMA)
