"""The notebook's tables of drill trials: the plan, who agreed, who was entered, each lot, what was declined, each look.

Not here: how a lot is drawn (warehouse/domain/trial_draw.py), the secret (never in the notebook while a trial runs).
"""

from __future__ import annotations

from sqlalchemy import Column, Date, DateTime, Float, Integer, String, Text

from warehouse.notebook.entry_table import entry_table, student_column

AGREED_BY = ("student", "guardian")
DECLINED_BY = ("student", "coach")


def _trial() -> Column:
    return Column("trial_id", String(100), nullable=False, comment="The trial.")


TRIAL = entry_table(
    "trial",
    _trial(),
    Column("plan", Text, nullable=False, comment="The plan as JSON; fixed by the commitment."),
    Column("commitment", String(64), nullable=False, comment="SHA-256 of secret and plan, shown from the start."),
    Column("begun_on", Date, nullable=False, comment="First day on which a student may be entered."),
    Column("ended_on", Date, comment="The day it was ended; null while it runs."),
    Column("opened_secret", String(200), comment="The secret in hexadecimal, opened at the end; null before."),
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
    Column("place", Integer, nullable=False, comment="Place in the stratum, from 0."),
    Column("block", Integer, nullable=False, comment="Block in the stratum, from 0."),
    Column("arm", String(400), nullable=False, comment="What was drawn."),
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
TRIAL_TABLES = (TRIAL, TRIAL_AGREEMENT, TRIAL_PARTICIPANT, TRIAL_LOT, TRIAL_DECLINE, TRIAL_LOOK)
