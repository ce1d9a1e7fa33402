"""Raw tables: what the files said, typed and in canonical units, with the file and line each row came from.

Signs are canonical but nothing is mirrored for left-handers. Not here: how the files are read (warehouse/landing).
"""

from __future__ import annotations

from warehouse.schema.core import BAY_ID, CLUB, CLUB_GROUP, NIGHT, SITE_ID, metric_column
from warehouse.schema.declaration import KEY, NAME, PERSON, WORDS, Column, Table
from warehouse.schema.metrics import AIR, CLUBS, MEASURED, METRIC, Metric

PATH = Column("path", "VARCHAR", "The export, under landing/shots.", personal=KEY)
LINE = Column("line", "BIGINT", "Line in the file it came from, the header counted.", low=1)
UNMIRRORED = "As the bay said it, not mirrored for left-handers; otherwise: "


def said_column(metric: Metric) -> Column:
    """Return a metric's column as it stands in raw: canonical unit and sign, not mirrored."""
    column = metric_column(metric)
    return Column(**{**column.__dict__, "description": UNMIRRORED + column.description}) if metric.mirrored else column


SHOT = Table(
    "raw.shot",
    "one shot as a bay exported it, in canonical units and signs, not mirrored",
    ("path", "line"),
    (
        NIGHT,
        BAY_ID,
        PATH,
        Column("line", "BIGINT", "Physical line in that file, the header counted; in parquet the row's number.", low=1),
        Column("struck_at", "TIMESTAMP", "When the ball was struck by the bay's clock, UTC."),
        Column("struck_at_local", "TIMESTAMP", "The same in the site's local time."),
        Column("student_id", "VARCHAR", "Whom the bay named, if anyone.", nullable=True, personal=PERSON),
        CLUB,
        *(said_column(metric) for metric in MEASURED),
        *(Column(air.name, "DOUBLE", air.description, air.unit, True, air.low, air.high) for air in AIR),
        Column("already_turned", "BOOLEAN", "Whether the bay had mirrored left-handers itself.", nullable=True),
    ),
    night="night",
    published=False,
)

EXPORT_FILE = Table(
    "raw.export_file",
    "one export as last read, and beside a refused one the last good one whose rows are still in force",
    ("path", "latest"),
    (
        NIGHT,
        Column("bay_id", "VARCHAR", "The bay, by the file's name.", personal=KEY),
        PATH,
        Column("content_hash", "VARCHAR", "SHA-256 of the file's bytes."),
        Column("status", "VARCHAR", "loaded (files of one bay and night are merged), refused whole, or replaced: every "
               "shot in it stands in other files of the same bay and night.",
               values=("loaded", "refused", "replaced")),
        Column("reason", "VARCHAR", "Why it, or part of it, is not loaded; what to do.", nullable=True, personal=WORDS),
        Column("rows_read", "BIGINT", "Rows in the file.", "rows", low=0),
        Column("rows_loaded", "BIGINT", "Rows that could be loaded.", "rows", low=0),
        Column("rows_rejected", "BIGINT", "Rows rejected, each with its fault.", "rows", low=0),
        Column("rows_duplicate", "BIGINT", "Left out because they stand word for word in this file before, or the same "
               "shot stands in another file of this bay and night.", "rows", low=0),
        Column("rows_set_aside", "BIGINT", "Without a fault, and not loaded: the file is refused whole, or they are "
               "counted for another bay.", "rows", low=0),
        Column("read_at", "TIMESTAMP", "When it was read, UTC."),
        Column("size_bytes", "BIGINT", "Size of the file when last looked at.", "bytes", low=0),
        Column("modified_ns", "BIGINT", "Its time of change when last looked at, since 1970.", "ns"),
        Column("settings_hash", "VARCHAR", "Of the profile and of the bay's site and zone it was read by."),
        Column("latest", "BOOLEAN", "Whether this is what the path held when last read."),
        Column("in_force", "BOOLEAN", "Whether its rows are the ones in raw.shot."),
        Column("original_path", "VARCHAR", "The file in the inbox it was unpacked from, under landing, a student's "
               "name left out; empty in landing/shots.", nullable=True, personal=WORDS),
        Column("rows_passed_over", "BIGINT", "Lines under the header that the profile's rules call no shots: units, "
               "repeated headers, summaries.", "rows", True, 0),
    ),
    night="night",
    published=False,
)  # fmt: skip

REJECTED_ROW = Table(
    "raw.rejected_row",
    "one row of an export that could not be loaded, with its first fault",
    ("path", "line"),
    (
        NIGHT,
        BAY_ID,
        PATH,
        LINE,
        Column("column_name", "VARCHAR", "The canonical column at fault; null where the whole row is.", nullable=True),
        Column("value", "VARCHAR", "The value as it stands in the file.", nullable=True, personal=WORDS),
        Column("reason", "VARCHAR", "The first fault found in the row.",
               values=("unparsable", "missing", "outside limits", "outside its night", "unknown club")),
        Column("detail", "VARCHAR", "What was expected, and the remedy.", nullable=True, personal=WORDS),
        Column("place", "VARCHAR", "Where it stands, where a line does not say it: sheet and row, or path in JSON.",
               nullable=True, personal=WORDS),
        Column("latest", "BOOLEAN", "Whether it is of what the path held when last read."),
    ),
    night="night",
    published=False,
)  # fmt: skip

REPEATED_SHOT = Table(
    "raw.repeated_shot",
    "one shot of an export in force that is counted from another export: the same shot stands in both",
    ("path", "line"),
    (*SHOT.columns, Column("kept_path", "VARCHAR", "The export from which it is counted.", personal=KEY)),
    night="night",
    published=False,
)

EXPORT_DECISION = Table(
    "raw.export_decision",
    "one decision of a person about an export, as the home's book holds it",
    ("number",),
    (
        Column("number", "BIGINT", "Its place in the book, from 1; of two on one content the later counts.", low=1),
        Column("decided_at", "TIMESTAMP", "When it was decided, UTC."),
        PATH,
        Column("content_hash", "VARCHAR", "SHA-256 of the content it is about."),
        Column("decision", "VARCHAR", "take: loaded although it would be kept out; withdraw: taken back out.",
               values=("take", "withdraw")),
        Column("note", "VARCHAR", "Why, in the words of who decided.", nullable=True, personal=WORDS),
    ),
    published=False,
)  # fmt: skip


def reference(name: str, row: str, key: tuple[str, ...], *columns: Column) -> Table:
    """Return a reference table: its columns and the line each row stood on."""
    return Table(f"raw.{name}", row, key, (*columns, LINE), published=False)


def identity(name: str, words: str, personal: str) -> Column:
    """Return a text column that identifies something; leading zeros are kept."""
    return Column(name, "VARCHAR", words, personal=personal)


LESSON_ID = identity("lesson_id", "The lesson, by the lesson book's id.", personal=PERSON)
DRILL_ID = identity("drill_id", "The drill, by the academy's own id.", personal=KEY)
STUDENT_ID = identity("student_id", "The student, by the academy's own id.", personal=PERSON)
COHORT = identity("cohort", "The cohort, by its name.", personal=KEY)
COACH_ID = Column("coach_id", "VARCHAR", "The coach; empty for own practice.", nullable=True, personal=KEY)
GIVEN_NAME = Column("name", "VARCHAR", "Name in full, as the academy gave it.", personal=WORDS)
PERSON_NAME = Column("name", "VARCHAR", GIVEN_NAME.description, personal=NAME)
YES_NO = ("yes", "no")

SITE = reference(
    "site", "one site of the academy", ("site_id",),
    SITE_ID,
    GIVEN_NAME,
    Column("timezone", "VARCHAR", "IANA name of its time zone."),
    Column("altitude_m", "DOUBLE", "Height above the sea.", "m", low=-450, high=5500),
)  # fmt: skip

BAY = reference(
    "bay", "one hitting bay", ("bay_id",),
    identity("bay_id", "The bay; its exports carry this name.", personal=KEY),
    SITE_ID,
    identity("export_profile", "File in landing/profiles that says how its exports are read.", personal=KEY),
    Column("setting", "VARCHAR", "Whether the bay is indoor or outdoor.", values=("indoor", "outdoor")),
    Column("ball", "VARCHAR", "range or premium balls.", values=("range", "premium")),
)  # fmt: skip

COACH = reference(
    "coach",
    "one coach",
    ("coach_id",),
    identity("coach_id", "The coach, by the academy's own id.", personal=KEY),
    PERSON_NAME,
)

STUDENT = reference(
    "student", "one student", ("student_id",),
    STUDENT_ID,
    PERSON_NAME,
    Column("handed", "VARCHAR", "The golfer's hand: right or left.", values=("right", "left")),
    Column("handicap", "DOUBLE", "Handicap index; plus handicaps are below zero.", "strokes", True, -15, 60),
    Column("joined_on", "DATE", "When the student joined."),
    Column("cohort", "VARCHAR", "The one cohort for all time, unless enrolments say otherwise.",
           nullable=True, personal=KEY),
    Column("born_on", "DATE", "Date of birth, if given.", nullable=True),
    Column("consent", "VARCHAR", "yes: may be shown by name and used in drill evidence.", values=YES_NO),
    Column("consent_evidence", "VARCHAR", "yes or no to drill evidence alone; empty: as consent.", nullable=True,
           values=YES_NO),
)  # fmt: skip

DRILL = reference(
    "drill", "one drill", ("drill_id",),
    DRILL_ID,
    GIVEN_NAME,
    Column("aim_metric", "VARCHAR", "The number it is meant to change; empty: no bay measures it.", nullable=True,
           values=tuple(METRIC)),
    Column("aim_direction", "VARCHAR", "raise, lower or toward.", nullable=True, values=("raise", "lower", "toward")),
    Column("aim_target", "DOUBLE", "The number aimed at, when toward, in the aim metric's unit.", "metric", True),
    Column(**{**CLUB_GROUP.__dict__, "values": (*CLUB_GROUP.values, "any"),
              "description": "The clubs it is for: driver, wood, iron, wedge or any."}),
    Column("setup", "VARCHAR", "How it is set up.", nullable=True, personal=WORDS),
    Column("caution", "VARCHAR", "What to take care of.", nullable=True, personal=WORDS),
)  # fmt: skip

LESSON = reference(
    "lesson", "one student's booking of a bay; a group lesson is several rows", ("lesson_id",),
    LESSON_ID,
    STUDENT_ID,
    COACH_ID,
    BAY_ID,
    Column("starts_at", "TIMESTAMP", "Start, the site's local time."),
    Column("ends_at", "TIMESTAMP", "End, the site's local time."),
)  # fmt: skip

DRILL_LOG = reference(
    "drill_log", "one drill done in a lesson", ("lesson_id", "starts_at"),
    LESSON_ID,
    DRILL_ID,
    Column("starts_at", "TIMESTAMP", "When the aid went down, the site's local time; empty: done in this lesson, no "
           "block is cut from it.", nullable=True),
    Column("ends_at", "TIMESTAMP", "When the aid came up; empty: at the next drill or the lesson's end.",
           nullable=True),
    Column("chosen_by", "VARCHAR", "coach, student, or draw: by lot.", nullable=True,
           values=("coach", "student", "draw")),
)  # fmt: skip

EVENT = reference(
    "event", "one thing that happened to a student, site or bay", ("scope", "id", "on_date", "kind", "club"),
    Column("scope", "VARCHAR", "student, site or bay.", values=("student", "site", "bay")),
    identity("id", "Which student, site or bay.", personal=PERSON),
    Column("on_date", "DATE", "When it happened, local date."),
    Column("kind", "VARCHAR", "What happened, by the event's kind.",
           values=("club changed", "balls changed", "device recalibrated", "device moved", "long break")),
    Column("club", "VARCHAR", "Which club, if one; empty: all.", nullable=True, values=tuple(CLUBS)),
    Column("note", "VARCHAR", "What happened, in words.", nullable=True, personal=WORDS),
)  # fmt: skip

ENROLMENT = reference(
    "enrolment", "one stay of a student in a cohort", ("student_id", "cohort", "from_date"),
    STUDENT_ID,
    COHORT,
    Column("from_date", "DATE", "First day in the cohort."),
    Column("to_date", "DATE", "Last day; empty: still.", nullable=True),
)  # fmt: skip

TERM = reference(
    "term", "one of the academy's terms", ("term_id",),
    identity("term_id", "The term.", personal=KEY),
    Column("name", "VARCHAR", "What the academy calls it.", personal=WORDS),
    Column("from_date", "DATE", "First day of the term."),
    Column("to_date", "DATE", "Last day of the term."),
    Column("site_id", "VARCHAR", "The site whose term it is; empty: every site's.", nullable=True,
           personal=KEY),
)  # fmt: skip

OBSERVATION = reference(
    "observation", "one thing a coach saw that no sensor reports", ("student_id", "observed_at", "measure"),
    STUDENT_ID,
    Column("observed_at", "TIMESTAMP", "When, the site's local time."),
    Column("measure", "VARCHAR", "What was observed, by its name.", personal=KEY),
    Column("value", "DOUBLE", "How much, in the row's unit.", "the row's unit"),
    Column("unit", "VARCHAR", "Unit of the value.", personal=WORDS),
    COACH_ID,
)  # fmt: skip

REFERENCE_FILE = Table(
    "raw.reference_file",
    "one reference table as last read",
    ("name",),
    (
        Column("name", "VARCHAR", "File under landing/academy; every table has a row, even where there is no file."),
        Column("content_hash", "VARCHAR", "SHA-256 of its bytes and of the rules it was read by."),
        Column("rows", "BIGINT", "Rows taken in from the file.", "rows", low=0),
        Column("warnings", "VARCHAR", "What was kept out and why, a line each; empty if nothing.", personal=WORDS),
        Column("read_at", "TIMESTAMP", "When it was read, UTC."),
    ),
    published=False,
)  # fmt: skip

EXPORT_TABLES = (SHOT, EXPORT_FILE, REJECTED_ROW, REPEATED_SHOT, EXPORT_DECISION)
REFERENCE_TABLES = (SITE, BAY, COACH, STUDENT, DRILL, LESSON, DRILL_LOG, EVENT, ENROLMENT, TERM, OBSERVATION)
TABLES = (*EXPORT_TABLES, *REFERENCE_TABLES, REFERENCE_FILE)
