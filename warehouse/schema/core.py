"""Core tables: shots attributed to sessions, phases and drill episodes, and blocks of shots.

Not here: episodes and the blocks they compare (episode_core.py), the tables people read (mart.py), what the files
said (raw.py).
"""

from __future__ import annotations

from warehouse.schema.declaration import KEY, PERSON, Column, Table
from warehouse.schema.metrics import CLUB_GROUPS, CLUBS, DERIVED, MEASURED, METRIC, Metric

METRIC_NAMES = tuple(METRIC)

NIGHT = Column("night", "DATE", "The academy's operating day, a local calendar date.")
BAY_ID = Column("bay_id", "VARCHAR", "The bay in which the ball was struck.", personal=KEY)
SITE_ID = Column("site_id", "VARCHAR", "The site of the bay.", personal=KEY)
STUDENT_ID = Column("student_id", "VARCHAR", "The student, by the academy's own id.", personal=PERSON)
SESSION_ID = Column("session_id", "VARCHAR",
                    "The session: its lesson_id, or for practice outside lessons student, bay and first shot.",
                    personal=PERSON)  # fmt: skip
NEXT_SESSION_ID = Column("next_session_id", "VARCHAR", "The next session that counts for retention.",
                         nullable=True, personal=PERSON)  # fmt: skip
COACH_ID = Column(
    "coach_id",
    "VARCHAR",
    "The coach of the lesson; null for own practice. In core for the fit only: students are not assigned to coaches by "
    "lot, so outcomes by coach say nothing about coaches and no published table gives them.",
    nullable=True,
    personal=KEY,
)
CLUB = Column("club", "VARCHAR", "The club, by its canonical name.", values=tuple(CLUBS))
CLUB_GROUP = Column("club_group", "VARCHAR", "The club's group: driver, wood, iron or wedge.", values=CLUB_GROUPS)
METRIC_COLUMN = Column("metric", "VARCHAR", "The number, by its name in mart.metric.", values=METRIC_NAMES)
WEEK = Column("week", "DATE", "Monday of the local date.")
EPISODE_ID = Column("episode_id", "VARCHAR", "The drill episode, by its id.", personal=PERSON)
DRILL_ID = Column("drill_id", "VARCHAR", "The drill, by the academy's own id.", personal=KEY)


TRIAL_ID = Column("trial_id", "VARCHAR", "The drill trial, by its id.")
BEGUN_BY = Column(
    "begun_by", "VARCHAR", "What gave the moment: the coach's tap, else the draw, where it fell into the lesson.",
    values=("tap", "draw"),
)  # fmt: skip


STRETCH_BEGUN_BY = Column(
    "begun_by", "VARCHAR", "What began the stretch: the beginning, an event of events.csv, or a step in the bay's "
    "level that all its students share and nobody logged: a device changed or recalibrated.", nullable=True,
    values=("beginning", "event", "step nobody logged"),
)  # fmt: skip


def metric_column(metric: Metric) -> Column:
    """Return the shot column that holds a metric."""
    nullable = not metric.required or metric.may_lack
    return Column(metric.name, "DOUBLE", metric.description, metric.unit, nullable, metric.low, metric.high)


SHOT = Table(
    "core.shot",
    "one struck ball; signed numbers mirrored for left-handers, so that in to out, closed and draw mean the same",
    ("path", "line"),
    (
        NIGHT,
        Column("path", "VARCHAR", "The export it came from, under landing/shots.", personal=KEY),
        Column("line", "BIGINT", "Its line in that file.", low=1),
        BAY_ID,
        SITE_ID,
        Column("struck_at", "TIMESTAMP", "When it was struck, UTC."),
        Column("struck_at_local", "TIMESTAMP", "When it was struck, the site's local time."),
        Column("lesson_id", "VARCHAR", "The lesson it belongs to, if any.", nullable=True, personal=PERSON),
        SESSION_ID.optional(),
        STUDENT_ID.optional(),
        Column(
            "unattributed_reason", "VARCHAR", "Why the shot counts for the bay but for no person.", nullable=True,
            values=("no lesson and no student", "lessons overlap", "student contradicts lesson", "unknown student"),
        ),
        Column("phase", "VARCHAR", "drill while a drill ran, else free; null where unattributed.", nullable=True,
               values=("drill", "free")),
        Column("segment", "INTEGER", "Free shots: how many drills came before (drill-free sessions: 0 before the "
               "split, 1 after it).", nullable=True, low=0),
        EPISODE_ID.optional(),
        CLUB,
        CLUB_GROUP,
        Column("mishit", "BOOLEAN", "Ball speed under the set share of the student's median with the club that "
               "session; loaded and counted, not usable in a block."),
        Column("usable", "BOOLEAN", "Counts in the student's blocks: attributed, free, full swing, not a mishit."),
        Column("set_aside_reason", "VARCHAR", "What a person marked on the stretch: coach hitting, another student, "
               "not full swings; or numbers that cannot be (core.bay_fault).", nullable=True),
        *(metric_column(metric) for metric in MEASURED),
        *(metric_column(metric) for metric in DERIVED if metric.name != "carry_gap"),
        Column("air_density", "DOUBLE", "Density of the air the model flies it through: the bay's set air, else what "
               "an outdoor export measured, else the standard atmosphere at the site's altitude.", "kg/m^3", True, 0.4,
               2),
        Column("model_carry", "DOUBLE", "Carry of the measured launch by the flight model, in that air. The model is "
               "good for differences, and measured for drivers: irons and wedges are outside its range.", "m", True, 0),
        Column("model_spin", "VARCHAR", "Whether the model's spin was measured or taken from the delivery.",
               nullable=True, values=("measured", "modelled")),
        Column("standard_carry", "DOUBLE", "What the same launch with a premium ball carries on standard air at sea "
               "level, by the flight model; driver only unless a range is set for other clubs.", "m", True, 0),
        Column("carry_available", "DOUBLE", "What this club speed could carry with the best reachable delivery, by the "
               "flight model; driver only unless a range is set for other clubs.", "m", True, 0),
        metric_column(METRIC["carry_gap"]),
    ),
    night="night",
)  # fmt: skip

SESSION = Table(
    "core.session",
    "one student's stay in one bay: a lesson, or practice without a gap over the set minutes",
    ("session_id",),
    (
        NIGHT,
        SESSION_ID,
        Column("kind", "VARCHAR", "lesson (a row of the lesson book) or practice.", values=("lesson", "practice")),
        Column("lesson_id", "VARCHAR", "The lesson, if it was one.", nullable=True, personal=PERSON),
        STUDENT_ID,
        COACH_ID,
        BAY_ID,
        SITE_ID,
        Column("begins_at", "TIMESTAMP", "Its first shot, the site's local time."),
        Column("ends_at", "TIMESTAMP", "Its last shot, the site's local time."),
        WEEK,
        Column("shots", "BIGINT", "Shots struck in the session, mishits included.", "shots", low=1),
        Column("usable_shots", "BIGINT", "Shots that count in a block.", "shots", low=0),
        Column("mishits", "BIGINT", "Mishits among the session's shots.", "shots", low=0),
        Column("drills", "BIGINT", "Drills logged in the session.", low=0),
        Column("main_club", "VARCHAR", "The club most hit among usable shots.", nullable=True, values=tuple(CLUBS)),
        Column("split_after", "INTEGER", "Drill-free sessions: after how many usable shots of the main club the "
               "session is split.", "shots", True, 1),
    ),
    night="night",
)  # fmt: skip

BLOCK = Table(
    "core.block",
    "one stretch of usable free shots in a session with one club, for one metric; bay offset still in",
    ("session_id", "segment", "club", "metric"),
    (
        NIGHT,
        SESSION_ID,
        STUDENT_ID,
        BAY_ID,
        Column("segment", "INTEGER", "0 is the session's first block; n is the one after its n-th drill (drill-free "
               "sessions: 1 is after the split).", low=0),
        CLUB,
        CLUB_GROUP,
        METRIC_COLUMN,
        Column("shots", "BIGINT", "Usable shots with this metric.", "shots", low=1),
        Column("centre", "DOUBLE", "10% trimmed mean of the block's shots.", "metric"),
        Column("variance", "DOUBLE", "Error variance of the centre (Tukey & McLaughlin 1963); null under two shots.",
               "metric squared", True, 0),
        Column("spread", "DOUBLE", "Winsorised standard deviation; null under two shots.", "metric", True, 0),
    ),
    night="night",
)  # fmt: skip

FIRST_BLOCK = Table(
    "core.first_block",
    "one session's first block with one club, for one metric, bay offset removed; five usable shots at least",
    ("session_id", "club", "metric"),
    (
        SESSION_ID,
        STUDENT_ID,
        BAY_ID,
        NIGHT,
        WEEK,
        Column("begins_at", "TIMESTAMP", "When the session began, the site's local time."),
        Column("coached", "BOOLEAN", "A lesson with a coach."),
        Column("drilled", "BOOLEAN", "A drill was done in the session."),
        CLUB,
        CLUB_GROUP,
        METRIC_COLUMN,
        Column("shots", "BIGINT", "Usable shots with this metric.", "shots", low=1),
        Column("centre", "DOUBLE", "10% trimmed mean, bay offset removed.", "metric"),
        Column("variance", "DOUBLE", "Error variance of the centre.", "metric squared", True, 0),
        Column("spread", "DOUBLE", "Winsorised standard deviation of the block.", "metric", True, 0),
    ),
)

INTERRUPTION = Table(
    "core.interruption",
    "one day on which a student's or a bay's numbers may have jumped; blocks across it are not compared",
    ("student_id", "bay_id", "club", "on_date", "kind"),
    (
        STUDENT_ID.optional(),
        BAY_ID.optional(),
        CLUB.optional(),
        Column("on_date", "DATE", "The day on which it happened."),
        Column("kind", "VARCHAR", "What happened, by the event's kind."),
    ),
)

BAY_EPOCH = Table(
    "core.bay_epoch",
    "one bay, metric and stretch between recalibrations: what this bay adds to a number",
    ("bay_id", "metric", "from_date"),
    (
        BAY_ID,
        METRIC_COLUMN,
        Column("from_date", "DATE", "First day of the stretch."),
        STRETCH_BEGUN_BY,
        Column("bay_offset", "DOUBLE", "What the bay adds, in its own frame (before mirroring).", "metric", True),
        Column("ci_low", "DOUBLE", "Lower end of the 95% interval.", "metric", True),
        Column("ci_high", "DOUBLE", "Upper end of the 95% interval.", "metric", True),
        Column("overlap_students", "BIGINT", "Students also seen in another bay.", "students", low=0),
        Column("comparable_set", "VARCHAR", "Bays in the same set can be compared; named for its first bay.",
               nullable=True, personal=KEY),
    ),
)  # fmt: skip

TABLES = (SHOT, SESSION, BLOCK, BAY_EPOCH, INTERRUPTION, FIRST_BLOCK)
