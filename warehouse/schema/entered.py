"""Raw tables of what people entered in the notebook, as the night read it: entries as they stand after corrections.

Holds ("not for this student until …") are not among them: they stay in the notebook and out of the published file.
"""

from __future__ import annotations

from warehouse.schema.core import BAY_ID, BEGUN_BY, DRILL_ID, STUDENT_ID, TRIAL_ID
from warehouse.schema.declaration import KEY, PERSON, WORDS, Column, Table
from warehouse.schema.metrics import CLUB_GROUPS, METRIC

STARTS_AT = Column("starts_at", "TIMESTAMP", "Start, the site's local time.")
ENDS_AT = Column("ends_at", "TIMESTAMP", "End, the site's local time; null where it was left open.", nullable=True)

SET_ASIDE = Table(
    "raw.set_aside",
    "one stretch in a bay that a person marked as not the student's own full swings",
    ("bay_id", "starts_at", "kind"),
    (
        BAY_ID,
        STUDENT_ID.optional(),
        STARTS_AT,
        ENDS_AT,
        Column("kind", "VARCHAR", "What the stretch was.",
               values=("coach hitting", "another student", "not full swings", "moved to bay")),
    ),
    published=False,
)  # fmt: skip

ENTERED_DRILL = Table(
    "raw.entered_drill",
    "one drill entered in the notebook",
    ("lesson_id", "student_id", "bay_id", "drill_id", "starts_at"),
    (
        Column("lesson_id", "VARCHAR", "The lesson, where it was named.", nullable=True, personal=PERSON),
        STUDENT_ID.optional(),
        BAY_ID.optional(),
        DRILL_ID,
        STARTS_AT,
        ENDS_AT,
        Column("chosen_by", "VARCHAR", "coach, student or draw.", nullable=True, values=("coach", "student", "draw")),
    ),
    published=False,
)

STOP = Table(
    "raw.stop",
    "one time that a drill was stopped",
    ("drill_id", "student_id", "at"),
    (
        STUDENT_ID.optional(),
        DRILL_ID,
        Column("kind", "VARCHAR", "Why the drill was stopped.", values=("pain", "aid struck", "rebound")),
        Column("at", "TIMESTAMP", "When, the site's local time."),
    ),
    published=False,
)

GOAL = Table(
    "raw.goal",
    "one student's goal, in the student's words",
    ("student_id", "entered_at"),
    (
        STUDENT_ID,
        Column("words", "VARCHAR", "The goal in words.", personal=WORDS),
        Column("metric", "VARCHAR", "The goal's metric, by name.", values=tuple(METRIC)),
        Column("club_group", "VARCHAR", "The goal's club group.", values=CLUB_GROUPS),
        Column("target", "DOUBLE", "The number aimed at, if one.", "metric", True),
        Column("by_date", "DATE", "By when it is to be reached.", nullable=True),
        Column("entered_at", "TIMESTAMP", "When it was entered, UTC."),
    ),
    published=False,
)

ENTERED_OBSERVATION = Table(
    "raw.entered_observation",
    "one observation entered in the notebook",
    ("student_id", "observed_at", "measure"),
    (
        STUDENT_ID,
        Column("observed_at", "TIMESTAMP", "When, the site's local time."),
        Column("measure", "VARCHAR", "What was observed, by its name.", personal=KEY),
        Column("value", "DOUBLE", "How much, in the row's unit.", "the row's unit"),
        Column("unit", "VARCHAR", "Unit of the value.", personal=WORDS),
        Column("coach_id", "VARCHAR", "The coach who observed it.", nullable=True, personal=KEY),
    ),
    published=False,
)

DRAWN_LOT = Table(
    "raw.drawn_lot",
    "one drill that a student drew in a drill trial",
    ("student_id", "drill_id", "drawn_at"),
    (
        STUDENT_ID,
        DRILL_ID,
        Column("club_group", "VARCHAR", "The clubs that the trial reads.", values=(*CLUB_GROUPS, "any")),
        Column("uses", "INTEGER", "How many times the trial has it done.", low=1),
        Column("drawn_on", "DATE", "The day of the draw, local to the site."),
        Column("drawn_at", "TIMESTAMP", "When the lot was written down, UTC."),
        Column("ends_on", "DATE", "The trial's last day; null while it runs.", nullable=True),
        Column("given_up_at", "TIMESTAMP", "When the student's own agreement was taken back, UTC.", nullable=True),
    ),
    published=False,
)

FREE_START = Table(
    "raw.free_start",
    "one moment at which the free balls of a drill trial's free-practice arm began for a student",
    ("trial_id", "student_id", "at", "begun_by"),
    (
        TRIAL_ID,
        STUDENT_ID,
        Column("at", "TIMESTAMP", "When: of a tap the site's local time, of a draw UTC."),
        BEGUN_BY,
        Column("most_balls", "INTEGER", "The most balls that the trial takes.", "balls", low=1),
    ),
    published=False,
)

TABLES = (SET_ASIDE, ENTERED_DRILL, STOP, GOAL, ENTERED_OBSERVATION, DRAWN_LOT, FREE_START)
