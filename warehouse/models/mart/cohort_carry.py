"""One row: one cohort, week or month and club group, with measured carry beside the same launches on standard air."""

from __future__ import annotations

import polars as pl

from warehouse.domain.change import cohort_carry
from warehouse.models.mart.cohort_change import ENROLMENTS
from warehouse.settings.settings import Settings

# Decimals: their sums are exact, so that a night and a rebuild agree whatever the order in which threads add.
READS = {
    "nights": """
select
    student_id,
    night,
    club_group,
    count(*) as shots,
    avg(carry::decimal(18, 9)) as carry,
    avg(standard_carry::decimal(18, 9)) as standard_carry,
    avg(air_density::decimal(18, 9)) as air_density
from core.shot
where usable and carry is not null and standard_carry is not null
group by student_id, night, club_group
""",
    "enrolments": ENROLMENTS,
}


def rows(frames: dict[str, pl.DataFrame], settings: Settings) -> pl.DataFrame:
    """Average by student, then over students."""
    return cohort_carry.cohort_carry(frames["nights"], frames["enrolments"])
