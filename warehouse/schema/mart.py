"""Mart tables about students and cohorts, and the dictionaries. Bays are in bay_mart.py, drills in drill_mart.py."""

from __future__ import annotations

from warehouse.schema.core import (
    CLUB_GROUP,
    METRIC_COLUMN,
    STUDENT_ID,
    WEEK,
)
from warehouse.schema.declaration import KEY, NAME, PERSON, WORDS, Column, Table
from warehouse.schema.entered import ENTERED_OBSERVATION

MEASURES = ("centre", "distance", "spread")
BETTER = ("up", "down", "zero")
COHORT = Column("cohort", "VARCHAR", "The cohort; in comparisons also all students.", personal=KEY)
CHANGE = Column("change", "DOUBLE", "After less before, in the metric's unit.", "metric", True)
CI_LOW = Column("ci_low", "DOUBLE", "Lower end of the 95% interval.", "metric", True)
CI_HIGH = Column("ci_high", "DOUBLE", "Upper end of the 95% interval.", "metric", True)
EXPECTED_CHANGE = Column("expected_change", "DOUBLE", "What practice alone changes over the same span.", "metric", True)
MDC = Column(
    "minimal_detectable_change", "DOUBLE", "Smallest change that exceeds a student's own noise (MDC95).", "metric",
    True, 0,
)  # fmt: skip

STUDENT = Table(
    "mart.student",
    "one student; the name is withheld without consent",
    ("student_id",),
    (
        STUDENT_ID,
        Column("name", "VARCHAR", "Name; null without consent, and in the file without names.", nullable=True,
               personal=NAME),
        Column("handed", "VARCHAR", "The golfer's hand: right or left.", values=("right", "left")),
        Column("handicap", "DOUBLE", "Handicap as the academy gave it.", "strokes", True),
        Column("handicap_band", "VARCHAR", "Handicap by band of ten.", nullable=True,
               values=("under 10", "10 to 19", "20 to 29", "30 and over")),
        Column("joined_on", "DATE", "First day at the academy."),
        Column("cohort", "VARCHAR", "The cohort, by the latest enrolment.", nullable=True, personal=KEY),
        Column("age_group", "VARCHAR", "Age on the day of publication, by group; null where unknown.", nullable=True,
               values=("under 18", "18 to 39", "40 to 59", "60 and over")),
        Column("minor", "BOOLEAN", "Under 18 on the day of publication, or of unknown age (age_group is null then)."),
        Column("in_evidence", "BOOLEAN", "Agreed to be used in drill evidence."),
        Column("sessions", "BIGINT", "Sessions with shots so far.", low=0),
        Column("last_seen", "DATE", "Last day with a session.", nullable=True),
    ),
)  # fmt: skip

COHORT_MEMBER = Table(
    "mart.cohort_member",
    "one student's time in one cohort",
    ("student_id", "cohort", "from_date"),
    (
        STUDENT_ID,
        COHORT,
        Column("from_date", "DATE", "First day in the cohort."),
        Column("to_date", "DATE", "Last day in the cohort; null while it lasts.", nullable=True),
    ),
)

STUDENT_WEEK = Table(
    "mart.student_week",
    "one student, week, club group and metric: usable free shots, bay offsets removed",
    ("student_id", "week", "club_group", "metric"),
    (
        STUDENT_ID,
        WEEK,
        CLUB_GROUP,
        METRIC_COLUMN,
        Column("shots", "BIGINT", "Usable free shots with this metric.", "shots", low=1),
        Column("centre", "DOUBLE", "Mean of the week's block centres, weighted by shots, bay offsets removed.",
               "metric"),
        Column("spread", "DOUBLE", "Pooled winsorised standard deviation within blocks.", "metric", True, 0),
    ),
)  # fmt: skip

STUDENT_CHANGE = Table(
    "mart.student_change",
    "one student, club group and metric: first blocks against latest blocks",
    ("student_id", "club_group", "metric"),
    (
        STUDENT_ID,
        CLUB_GROUP,
        METRIC_COLUMN,
        Column("first_week", "DATE", "Week of the first block.", nullable=True),
        Column("latest_week", "DATE", "Week of the latest block.", nullable=True),
        Column("first_sessions", "BIGINT", "Sessions pooled in the first block.", low=0),
        Column("latest_sessions", "BIGINT", "Sessions pooled in the latest block.", low=0),
        Column("first_centre", "DOUBLE", "Centre of the first block.", "metric", True),
        Column("latest_centre", "DOUBLE", "Centre of the latest block.", "metric", True),
        CHANGE,
        CI_LOW,
        CI_HIGH,
        EXPECTED_CHANGE,
        Column("change_beyond_expected", "DOUBLE", "Change less the expected change.", "metric", True),
        MDC,
        Column("beyond", "BOOLEAN", "The change exceeds the minimal detectable change.", nullable=True),
        Column("p_value", "DOUBLE", "Of the change beyond expected against the student's own noise.", "", True, 0, 1),
        Column("q_value", "DOUBLE", "The same with false discoveries over students controlled (Benjamini & Hochberg "
               "1995).", "", True, 0, 1),
        Column("distance_change", "DOUBLE", "Direction numbers: change of the distance from zero; down is better.",
               "metric", True),
        Column("distance_low", "DOUBLE", "Lower end of its 95% interval.", "metric", True),
        Column("distance_high", "DOUBLE", "Upper end of its 95% interval.", "metric", True),
    ),
)  # fmt: skip

COHORT_CHANGE = Table(
    "mart.cohort_change",
    "one cohort, pair of windows, club group and metric: before and after of the students seen in both",
    ("cohort", "window_pair", "club_group", "metric"),
    (
        COHORT,
        Column("window_pair", "VARCHAR", "Which windows are compared: term (this term's first weeks against its "
               "latest), last_term (the same weeks of the term before against its latest) or recent (the latest weeks "
               "against those before)."),
        Column("present", "BOOLEAN", "Somebody is in the cohort on the last day with data."),
        Column("before_from", "DATE", "First day of the window before."),
        Column("before_to", "DATE", "Last day of the window before."),
        Column("after_from", "DATE", "First day of the window after."),
        Column("after_to", "DATE", "Last day of the window after."),
        CLUB_GROUP,
        METRIC_COLUMN,
        Column("measure", "VARCHAR", "What before, after and change measure: the centre, or for direction numbers the "
               "distance from zero (a signed mean over people would cancel).", values=("centre", "distance")),
        Column("students", "BIGINT", "Students seen in both windows.", "students", low=0),
        Column("students_only_before", "BIGINT", "Students seen only before.", "students", low=0),
        Column("before", "DOUBLE", "Mean of the students' values before.", "metric", True),
        Column("after", "DOUBLE", "Mean of the students' values after.", "metric", True),
        CHANGE,
        CI_LOW,
        CI_HIGH,
        EXPECTED_CHANGE,
        Column("change_beyond_expected", "DOUBLE", "Change less the expected change.", "metric", True),
        Column("beyond_low", "DOUBLE", "Lower end of its 95% interval.", "metric", True),
        Column("beyond_high", "DOUBLE", "Upper end of its 95% interval.", "metric", True),
        Column("share_beyond_mdc", "DOUBLE", "Share of students whose own change exceeds their minimal detectable "
               "change.", "share", True, 0, 1),
        Column("spread_before", "DOUBLE", "Mean of the students' spreads before.", "metric", True, 0),
        Column("spread_after", "DOUBLE", "Mean of the students' spreads after.", "metric", True, 0),
        Column("spread_change", "DOUBLE", "Mean change of the log of the spread; -0.1 is about a tenth tighter.",
               "log ratio", True),
        Column("spread_low", "DOUBLE", "Lower end of its 95% interval.", "log ratio", True),
        Column("spread_high", "DOUBLE", "Upper end of its 95% interval.", "log ratio", True),
    ),
)  # fmt: skip

COHORT_STUDENT = Table(
    "mart.cohort_student",
    "one student in a pair of windows: the points behind mart.cohort_change",
    ("cohort", "window_pair", "club_group", "metric", "student_id"),
    (
        COHORT,
        Column("window_pair", "VARCHAR", "Which windows are compared, as in mart.cohort_change."),
        CLUB_GROUP,
        METRIC_COLUMN,
        STUDENT_ID,
        Column("before", "DOUBLE", "The student's value before, by the row's measure in mart.cohort_change.", "metric",
               True),
        Column("after", "DOUBLE", "The student's value after; null if not seen then.", "metric", True),
    ),
)  # fmt: skip

TERM = Table(
    "mart.term",
    "the term that the last night belongs to, or the one before it",
    ("from_date", "to_date"),
    (
        Column("name", "VARCHAR", "What the academy calls it; empty where it named none.", personal=WORDS),
        Column("from_date", "DATE", "First day of the term."),
        Column("to_date", "DATE", "Last day; of a term without an end, the last day with data."),
        Column("source", "VARCHAR", "Where the dates come from: terms.csv; the day most of the cohorts' students began;"
               " or no dates: the last twelve weeks.", values=("academy", "cohorts", "weeks")),
        Column("current", "BOOLEAN", "The term of the last night, not the one before it."),
    ),
)  # fmt: skip

OBSERVATION = Table(
    "mart.observation",
    "one thing a coach saw that no sensor reports",
    ("student_id", "observed_at", "measure"),
    # By whom stays out of what is published.
    tuple(column for column in ENTERED_OBSERVATION.columns if column.name != "coach_id"),
)

GOAL = Table(
    "mart.goal",
    "one student's goal as it stands",
    ("student_id",),
    (
        STUDENT_ID,
        Column(
            "words",
            "VARCHAR",
            "The goal in the student's words; null in the file without names.",
            nullable=True,
            personal=WORDS,
        ),
        METRIC_COLUMN,
        CLUB_GROUP,
        Column("target", "DOUBLE", "The number aimed at, if one.", "metric", True),
        Column("by_date", "DATE", "By when it is to be reached.", nullable=True),
    ),
)

DELIVERY_READING = Table(
    "mart.delivery_reading",
    "one sentence on a student's latest session (of the last 60 days) with a club group: what costs carry or direction",
    ("student_id", "club_group", "place"),
    (
        STUDENT_ID,
        CLUB_GROUP,
        Column("session_id", "VARCHAR", "The session that was read.", personal=PERSON),
        Column("place", "BIGINT", "Order of the sentences, dearest first.", low=1),
        Column("kind", "VARCHAR", "carry, direction, or unknown (what could not be told).",
               values=("carry", "direction", "unknown")),
        Column("metric", "VARCHAR", "What the sentence names."),
        Column("cost", "DOUBLE", "What it costs, by the flight model.", "m", low=0),
        Column("sentence", "VARCHAR", "In plain trade words, in the academy's display units."),
    ),
)  # fmt: skip

METRIC = Table(
    "mart.metric",
    "one number a shot can have, for one club group",
    ("metric", "club_group"),
    (
        METRIC_COLUMN,
        CLUB_GROUP,
        Column("label", "VARCHAR", "The number's name in words."),
        Column("unit", "VARCHAR", "Canonical unit, in which every table stores it."),
        Column("display_unit", "VARCHAR", "Unit in which pages show it."),
        Column("per_display_unit", "DOUBLE", "Divide by this to get the display unit.", "unit per display unit"),
        Column("decimals", "INTEGER", "Decimals shown in display units.", low=0),
        Column("low", "DOUBLE", "Lowest value physically possible; below is rejected.", "metric"),
        Column("high", "DOUBLE", "Highest value physically possible; above is rejected.", "metric"),
        Column("matters_from", "DOUBLE", "The smallest change that matters.", "metric", low=0),
        Column("better", "VARCHAR", "Better direction: up, down, zero (nearer to zero), or null.", nullable=True,
               values=BETTER),
        Column("derived", "BOOLEAN", "Computed from measured numbers."),
        Column("description", "VARCHAR", "What the number is, in words."),
    ),
)  # fmt: skip

DICTIONARY = Table(
    "mart.dictionary",
    "one column of one published table",
    ("table_name", "column_name"),
    (
        Column("table_name", "VARCHAR", "The table, with its schema."),
        Column("column_name", "VARCHAR", "The column; empty for the table itself."),
        Column("type", "VARCHAR", "The column's type in DuckDB."),
        Column("unit", "VARCHAR", "Unit; metric: that of the row's metric."),
        Column("nullable", "BOOLEAN", "Whether the column may be null."),
        Column("limits", "VARCHAR", "Closed limits or allowed values, checked every night.", nullable=True),
        Column("description", "VARCHAR", "What the column holds, in words."),
    ),
)

TABLES = (
    STUDENT, COHORT_MEMBER, STUDENT_WEEK, STUDENT_CHANGE, COHORT_CHANGE, COHORT_STUDENT, TERM, OBSERVATION, GOAL,
    DELIVERY_READING, METRIC, DICTIONARY,
)  # fmt: skip
