"""Mart tables of what needs attention, and of the students listed. Kinds and numbers; the words are the dashboard's."""

from __future__ import annotations

from warehouse.schema.core import CLUB_GROUP, METRIC_COLUMN, STUDENT_ID
from warehouse.schema.declaration import PERSON, WORDS, Column, Table
from warehouse.schema.metrics import CLUB_GROUPS

SIDES = ("better", "worse")
KINDS = (
    "drill was stopped", "drill goes the wrong way", "drill has a side effect", "drill changes nothing",
    "evidence is thin", "bay is silent", "bay drifts", "bay clock is off", "student slides",
)  # fmt: skip
URGENCY = Column("urgency", "INTEGER", "1 is most urgent.", low=1)
NEED = (
    Column("kind", "VARCHAR", "What kind of thing it is.", values=KINDS),
    Column("subject_id", "VARCHAR", "The drill, student or bay.", personal=PERSON),
    Column("metric", "VARCHAR", "The metric, the side effect or the kind of stop it is about, or empty."),
    Column("club_group", "VARCHAR", "The metric's club group, or any.", nullable=True, values=(*CLUB_GROUPS, "any")),
    Column("since", "DATE", "Since when it has been so.", nullable=True),
    Column("counted", "BIGINT", "Stops, silent nights, numbers that drift, or students on the list.", nullable=True,
           low=0),
    Column("amount", "DOUBLE", "Uses a week, seconds that a clock is ahead, or how many of a list luck alone may "
           "have put there at most.", nullable=True),
    Column("reason", "VARCHAR", "The evidence's own reason, where there is one.", nullable=True, personal=WORDS),
)  # fmt: skip
NEED_KEY = ("kind", "subject_id", "metric")

DRILL_ATTENTION = Table(
    "mart.drill_attention",
    "one drill that hurts, does nothing, or is used on thin evidence",
    NEED_KEY,
    (URGENCY, *NEED),
)
BAY_ATTENTION = Table(
    "mart.bay_attention", "one bay that is silent, drifts, or keeps the wrong time", NEED_KEY, (URGENCY, *NEED)
)
STUDENT_ATTENTION = Table(
    "mart.student_attention", "one student listed as sliding, the surest three", NEED_KEY, (URGENCY, *NEED)
)
ATTENTION = Table(
    "mart.attention",
    "one thing that needs somebody's attention",
    NEED_KEY,
    (Column("rank", "INTEGER", "Order of urgency; the first seven are shown.", low=1), *NEED),
)

STUDENT_LIST = Table(
    "mart.student_list",
    "one student's goal number: better or worse beyond noise, now and as of the week before",
    ("student_id",),
    (
        STUDENT_ID,
        METRIC_COLUMN,
        CLUB_GROUP,
        Column("latest_week", "DATE", "Week of the latest block.", nullable=True),
        Column("change_beyond_expected", "DOUBLE", "Change beyond practice alone (the plain change where that is "
               "not known); of direction numbers the change of the distance from zero.", "metric", True),
        Column("p_value", "DOUBLE", "Of that change against the student's own noise.", "", True, 0, 1),
        Column("q_value", "DOUBLE", "The same with false discoveries controlled over all students, each on the own "
               "goal number (Benjamini & Hochberg 1995).", "", True, 0, 1),
        Column("side", "VARCHAR", "better or worse, where the change is beyond noise and q is at most 0.05.",
               nullable=True, values=SIDES),
        Column("side_week_before", "VARCHAR", "The same, by what was known seven days before the last night.",
               nullable=True, values=SIDES),
        Column("listed", "BOOLEAN", "The same call two weeks running."),
    ),
)  # fmt: skip

TABLES = (STUDENT_LIST, DRILL_ATTENTION, BAY_ATTENTION, STUDENT_ATTENTION, ATTENTION)
