"""The notebook's tables of drill trials: the plan, who agreed, who was entered, each lot, what was declined, each look.

Not here: how a lot is drawn (warehouse/domain/trials/randomisation.py), the secret (never in the notebook while a
trial runs).
"""

from __future__ import annotations

from sqlalchemy import Column, Date, DateTime, Float, Integer, String, Text

from warehouse.notebook.entry_table import entry_table, student_column

AGREED_BY = ("student", "guardian")
DECLINED_BY = ("student", "coach")
HARMS = ("pain", "aid struck", "rebound", "other")
"""Kinds of harm for which a trial is stopped."""
INELIGIBLE, LOT_GONE, BALLS = "trial_ineligible", "trial_lot_gone", "trial_balls"
SAFETY_CHECK, SNAPSHOT = "trial_safety_check", "trial_snapshot"


def _trial() -> Column:
    return Column("trial_id", String(100), nullable=False, comment="The trial.")


def _lot() -> tuple[Column, ...]:
    return (
        Column("place", Integer, nullable=False, comment="Place in the stratum, from 0."),
        Column("block", Integer, nullable=False, comment="Block in the stratum, from 0."),
        Column("arm", String(400), nullable=False, comment="What was drawn."),
    )


TRIAL = entry_table(
    "trial",
    _trial(),
    Column("plan", Text, nullable=False, comment="The plan as JSON; fixed by the commitment."),
    Column("commitment", String(64), nullable=False, comment="SHA-256 of secret and plan, shown from the start."),
    Column("begun_on", Date, nullable=False, comment="First day on which a student may be entered."),
    Column("ended_on", Date, comment="The day it was ended; null while it runs."),
    Column("opened_secret", String(200), comment="The secret in hexadecimal, opened at the end; null before."),
    Column("harm_kind", String(20), comment="What harm it was stopped for; null: it was not."),
    Column("harm_words", Text, comment="That harm in a sentence without names or health details; null: none given."),
)
TRIAL_AGREEMENT = entry_table(
    "trial_agreement",
    _trial(),
    student_column(),
    Column("agreed_by", String(20), nullable=False, comment="student, or the guardian of a minor."),
    Column("agreed_on", Date, nullable=False, comment="The day of the agreement."),
)
TRIAL_PARTICIPANT = entry_table(
    "trial_participant",
    _trial(),
    student_column(),
    Column("stratum", String(200), nullable=False, comment="Site and half of the starting gap."),
    Column("starting_gap", Float, comment="How far from the aim at entry, unit of the metric."),
    Column("entered_on", Date, nullable=False, comment="The day, local."),
)
TRIAL_LOT = entry_table(
    "trial_lot",
    _trial(),
    student_column(),
    Column("participant_entry_id", String(36), nullable=False, unique=True, comment="The participant's entry."),
    Column("stratum", String(200), nullable=False, comment="The stratum."),
    *_lot(),
)
TRIAL_LOT_GONE = entry_table(
    LOT_GONE,
    _trial(),
    Column("stratum", String(200), nullable=False, comment="The stratum of a lot whose student was taken out."),
    *_lot(),
)
TRIAL_DECLINE = entry_table(
    "trial_decline",
    _trial(),
    student_column(),
    Column("declined_by", String(20), nullable=False, comment="student or coach."),
    Column("reason", Text, nullable=False, comment="Why, in a sentence without health details."),
    Column("instead", String(200), comment="The drill given in its place; null: none."),
    Column("at", DateTime, nullable=False, comment="When, local time."),
)
TRIAL_INELIGIBLE = entry_table(
    INELIGIBLE,
    _trial(),
    student_column(),
    Column("reason", String(20), nullable=False, comment="What of the plan the student does not meet: cohort, goal."),
    Column("on_date", Date, nullable=False, comment="The day by which membership and goal were judged."),
)
TRIAL_BALLS = entry_table(
    BALLS,
    _trial(),
    student_column(),
    Column("bay_id", String(200), nullable=False, comment="The bay."),
    Column("at", DateTime, nullable=False, comment="When, local time."),
    Column("balls", Integer, nullable=False, comment="Free balls hit since the last entry; 0: they begin now."),
)
TRIAL_LOOK = entry_table(
    "trial_look",
    _trial(),
    Column("on_date", Date, nullable=False, comment="Through which night the look reads."),
    Column("arm", String(400), nullable=False, comment="Which arm was compared with the reference."),
    Column("effect", Float, comment="The difference then, unit of the metric."),
    Column("standard_error", Float, comment="Its standard error."),
    Column("information", Float, nullable=False, comment="Share of the planned information."),
    Column("decision", String(40), nullable=False, comment="What the rule said."),
)
TRIAL_SAFETY_CHECK = entry_table(
    SAFETY_CHECK,
    _trial(),
    Column("drill_id", String(200), nullable=False, comment="The drill that was stopped."),
    Column("words", Text, nullable=False, comment="What was looked at on site, without names or health details."),
)
TRIAL_SNAPSHOT = entry_table(
    SNAPSHOT,
    _trial(),
    Column("through_night", Date, nullable=False, comment="Through which night the result reads."),
    Column("content", Text, nullable=False, comment="Rows read and result as JSON; students by their entry's number."),
    Column("content_hash", String(64), nullable=False, comment="SHA-256 of the content."),
)
TRIAL_TABLES = (
    TRIAL,
    TRIAL_AGREEMENT,
    TRIAL_PARTICIPANT,
    TRIAL_LOT,
    TRIAL_LOT_GONE,
    TRIAL_DECLINE,
    TRIAL_INELIGIBLE,
    TRIAL_BALLS,
    TRIAL_LOOK,
    TRIAL_SAFETY_CHECK,
    TRIAL_SNAPSHOT,
)
