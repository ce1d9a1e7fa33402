"""Mart tables about bays: what arrived, what a bay adds to a number, whether its clock keeps time."""

from __future__ import annotations

from warehouse.schema.core import BAY_ID, METRIC_COLUMN, NIGHT, SITE_ID, STRETCH_BEGUN_BY, WEEK
from warehouse.schema.declaration import KEY, WARNING, WORDS, Column, Table
from warehouse.schema.mart import CI_HIGH, CI_LOW

BAY_OFFSET = Table(
    "mart.bay_offset",
    "one bay and metric: what the bay adds to the number since its last recalibration, in its own frame",
    ("bay_id", "metric"),
    (
        BAY_ID,
        METRIC_COLUMN,
        Column("bay_offset", "DOUBLE", "What the bay adds, before mirroring; sums to zero over a comparable set.",
               "metric", True),
        CI_LOW,
        CI_HIGH,
        Column("overlap_students", "BIGINT", "Students also seen in another bay: they carry the comparison.",
               "students", low=0),
        Column("comparable_set", "VARCHAR", "Bays in the same set can be compared; named for its first bay.",
               nullable=True, personal=KEY),
        Column("drifting", "BOOLEAN", "A CUSUM of weekly offsets has signalled (k = 0.5, h = 5 standard errors)."),
        Column("from_date", "DATE", "First day of the stretch since the last recalibration."),
        STRETCH_BEGUN_BY,
    ),
)  # fmt: skip

BAY_WEEK = Table(
    "mart.bay_week",
    "one bay, metric and week: the bay's offset that week and its running CUSUM",
    ("bay_id", "metric", "week"),
    (
        BAY_ID,
        METRIC_COLUMN,
        WEEK,
        Column("weekly_offset", "DOUBLE", "What the bay added that week.", "metric"),
        Column("standard_error", "DOUBLE", "Standard error of the weekly offset.", "metric", True, 0),
        Column("cusum_high", "DOUBLE", "Upper tabular CUSUM through this week.", "standard errors", True, 0),
        Column("cusum_low", "DOUBLE", "Lower tabular CUSUM through this week.", "standard errors", True, 0),
        Column("drifting", "BOOLEAN", "Whether the CUSUM had signalled by then."),
    ),
)

EXPECTED_BY = Column(
    "expected_by", "VARCHAR", "Why an export was expected: lessons booked, or the bay reported on three of the same "
    "four weekdays before.", nullable=True, values=("lessons", "weekday"),
)  # fmt: skip

BAY_EXPECTED = Table(
    "mart.bay_expected",
    "one bay and night on which its export is expected, through yesterday",
    ("night", "bay_id"),
    (NIGHT, BAY_ID, Column("lessons", "BIGINT", "Lessons booked in the bay that day.", low=0), EXPECTED_BY),
)

BAY_NIGHT = Table(
    "mart.bay_night",
    "one bay and night: what arrived and what became of it",
    ("night", "bay_id"),
    (
        NIGHT,
        BAY_ID,
        SITE_ID,
        Column("state", "VARCHAR", "reported, refused, silent (no file, though one was expected), or no lessons.",
               values=("reported", "refused", "silent", "no lessons")),
        Column("files", "BIGINT", "Files received for the night.", low=0),
        Column("shots", "BIGINT", "Shots loaded from the night's file.", "shots", low=0),
        Column("rejected", "BIGINT", "Rows rejected, each with its fault.", "rows", low=0),
        Column("duplicates", "BIGINT", "Exact duplicates left out.", "rows", low=0),
        Column("unattributed", "BIGINT", "Shots that belong to no person.", "shots", low=0),
        Column("lessons", "BIGINT", "Lessons booked in the bay that day.", low=0),
        EXPECTED_BY,
        Column("late", "BOOLEAN", "The file was read more than a day after the night.", severity=WARNING),
        Column("reason", "VARCHAR", "Why a file was refused.", nullable=True, personal=WORDS),
    ),
)  # fmt: skip

BAY_CLOCK = Table(
    "mart.bay_clock",
    "one bay: how far its clock seems to run ahead of the lesson book",
    ("bay_id",),
    (
        BAY_ID,
        Column("lessons", "BIGINT", "Lessons whose edges were used.", low=0),
        Column("ahead_seconds", "DOUBLE", "Estimated from first and last shots of the latest 28 days' lessons; plus: "
               "the bay's clock is ahead.", "s", True),
        Column("set_seconds", "DOUBLE", "The correction in academy.toml, already taken off.", "s"),
        Column("out_of_step", "BOOLEAN", "The clock seems over a minute off, and over four standard errors."),
    ),
)  # fmt: skip

BAY = Table(
    "mart.bay",
    "one bay",
    ("bay_id",),
    (
        BAY_ID,
        SITE_ID,
        Column("site_name", "VARCHAR", "Name of the bay's site.", personal=WORDS),
        Column("timezone", "VARCHAR", "The site's time zone (IANA)."),
        Column("altitude_m", "DOUBLE", "Altitude of the bay's site.", "m"),
        Column("air_density", "DOUBLE", "Air density by the standard atmosphere at that altitude.", "kg/m^3"),
        Column("export_profile", "VARCHAR", "How its exports are read.", personal=KEY),
        Column("setting", "VARCHAR", "Whether the bay is indoor or outdoor.", values=("indoor", "outdoor")),
        Column("ball", "VARCHAR", "Whether range or premium balls are hit.", values=("range", "premium")),
    ),
)

BAY_FAULT = Table(
    "core.bay_fault",
    "one number of a bay on a night that cannot be what its profile says: unit, sign or column mistaken",
    ("night", "bay_id", "metric", "kind"),
    (
        NIGHT,
        BAY_ID,
        METRIC_COLUMN,
        Column("kind", "VARCHAR", "What it was held against.",
               values=("smash factor", "carry against the flight model", "range of the club", "sign", "swapped")),
        Column("export_profile", "VARCHAR", "How the bay's exports are read.", personal=KEY),
        Column("shots", "BIGINT", "Shots that were looked at.", "shots", low=0),
        Column("found", "DOUBLE", "What was found: a ratio to what is usual, a t-value of a sign, or degrees."),
        Column("cause", "VARCHAR", "The likely cause in words."),
    ),
    night="night",
)  # fmt: skip

TABLES = (BAY, BAY_OFFSET, BAY_WEEK, BAY_EXPECTED, BAY_NIGHT, BAY_CLOCK, BAY_FAULT)
