"""Mart table of what changes of set-up go with: an association over students, never a cause."""

from __future__ import annotations

from warehouse.schema.core import CLUB_GROUP, METRIC_COLUMN
from warehouse.schema.declaration import KEY, WORDS, Column, Table

SETUP_ASSOCIATION = Table(
    "mart.setup_association",
    "one thing observed by eye and one delivery number: how changes of the two went together, which is no cause",
    ("measure", "unit", "metric", "club_group"),
    (
        Column("measure", "VARCHAR", "What was observed, by its name.", personal=KEY),
        Column("unit", "VARCHAR", "Unit of the observation.", personal=WORDS),
        METRIC_COLUMN,
        CLUB_GROUP,
        Column("students", "BIGINT", "Students with such a pair.", "students", low=1),
        Column("pairs", "BIGINT", "Successive observations of one student, with the delivery of both days.", low=1),
        Column("typical_change", "DOUBLE", "Median size of a change of the observation, unchanged ones left out.",
               "the row's unit", True, 0),
        Column("slope", "DOUBLE", "Change of the metric that went with one unit of change of the observation.",
               "metric per the row's unit", True),
        Column("slope_low", "DOUBLE", "Lower end of its 95% interval, by student (CR2).", "metric per the row's unit",
               True),
        Column("slope_high", "DOUBLE", "Upper end of that interval.", "metric per the row's unit", True),
        Column("rank_correlation", "DOUBLE", "Spearman's, over the pairs; a description only.", "", True, -1, 1),
        Column("p_value", "DOUBLE", "Of the slope, against none at all.", "", True, 0, 1),
        Column("q_value", "DOUBLE", "The same with false discoveries controlled over all rows past the gate (Benjamini "
               "& Hochberg 1995).", "", True, 0, 1),
        Column("finding", "VARCHAR", "goes with (q at most 0.05), not told apart from none, or too few (under 10 "
               "students or 20 pairs).", values=("goes with", "not told apart from none", "too few")),
    ),
)  # fmt: skip

TABLES = (SETUP_ASSOCIATION,)
