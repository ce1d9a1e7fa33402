"""Core tables about episodes: drills and free practice, with the blocks that they compare. Shots are in core.py."""

from __future__ import annotations

from warehouse.schema.core import (
    BAY_ID,
    BEGUN_BY,
    CLUB,
    CLUB_GROUP,
    COACH_ID,
    DRILL_ID,
    EPISODE_ID,
    METRIC_COLUMN,
    NEXT_SESSION_ID,
    NIGHT,
    SESSION_ID,
    STUDENT_ID,
    TRIAL_ID,
    WEEK,
)
from warehouse.schema.declaration import KEY, Column, Table

TIMINGS = (
    "as logged", "moved to the balls", "end read from the balls", "end not known", "looks like a drill nobody logged",
)  # fmt: skip
"""How a drill's begin and end were found."""


def block_columns(prefix: str, words: str) -> tuple[Column, ...]:
    """Return the four numbers of a block, under a prefix."""
    return (
        Column(f"{prefix}_shots", "BIGINT", f"Usable shots with this metric in the {words}.", "shots", True, 0),
        Column(f"{prefix}_centre", "DOUBLE", f"Centre (10% trimmed mean) of the {words}, bay offset removed.",
               "metric", True),
        Column(f"{prefix}_variance", "DOUBLE", f"Error variance of the centre of the {words}.", "metric squared",
               True, 0),
        Column(f"{prefix}_spread", "DOUBLE", f"Winsorised standard deviation of the {words}.", "metric", True, 0),
    )  # fmt: skip


DRILL_EPISODE = Table(
    "core.drill_episode",
    "one episode: a drill between two stretches of free shots, or a drill-free session split in two; free balls that a "
    "drill trial's lot gave in a lesson are none of these, they stand in core.free_arm",
    ("episode_id",),
    (
        NIGHT,
        EPISODE_ID,
        Column("kind", "VARCHAR", "A drill, or free_practice (a drill-free session split in two).",
               values=("drill", "free_practice")),
        DRILL_ID.optional(),
        STUDENT_ID,
        SESSION_ID,
        COACH_ID,
        BAY_ID,
        CLUB.optional(),
        CLUB_GROUP.optional(),
        Column("chosen_by", "VARCHAR", "Who chose the drill: coach, student, or draw (by lot).", nullable=True,
               values=("coach", "student", "draw")),
        Column("begins_at", "TIMESTAMP", "When the drill began (free practice: the split), the site's local time."),
        Column("ends_at", "TIMESTAMP", "When the drill ended, the site's local time.", nullable=True),
        Column("end_assumed", "BOOLEAN", "No end was logged: it is where the pauses between balls say (timing), else "
               "at the next drill's start or the lesson's end."),
        Column("logged_begins_at", "TIMESTAMP", "When the log says that the drill began, the site's local time.",
               nullable=True),
        Column("logged_ends_at", "TIMESTAMP", "When the log says that it ended, the site's local time.",
               nullable=True),
        Column("timing", "VARCHAR", "How begin and end were found: as the log says, moved to the pauses between balls "
               "that fit better, or an end that only the balls tell. Free practice: whether the lesson's pauses look "
               "like a drill that nobody logged.", nullable=True, values=TIMINGS),
        Column("timing_doubt", "DOUBLE", "Probability that begin or end lies more than a ball from where it stands.",
               "", True, 0, 1),
        WEEK,
        Column("position", "INTEGER", "Which drill of its session it is; free practice 1.", low=1),
        Column("followed_by_drill", "BOOLEAN", "Another drill followed in the session: left out of retention."),
        Column("drill_shots", "BIGINT", "Shots struck while the drill ran.", "shots", low=0),
        Column("pre_struck", "BIGINT", "Free balls struck before, mishits included, with the episode's club.", "shots",
               low=0),
        Column("pre_mishits", "BIGINT", "Mishits among those free balls.", "shots", low=0),
        Column("post_struck", "BIGINT", "Free balls struck after, mishits included, with the episode's club.", "shots",
               low=0),
        Column("post_mishits", "BIGINT", "Mishits among those free balls.", "shots", low=0),
    ),
    night="night",
)  # fmt: skip

EPISODE_METRIC = Table(
    "core.episode_metric",
    "one episode and metric: the block before, the block after, and the first block of the next session",
    ("episode_id", "metric"),
    (
        EPISODE_ID,
        METRIC_COLUMN,
        *block_columns("pre", "block before"),
        *block_columns("post", "block after"),
        NEXT_SESSION_ID,
        Column("next_bay_id", "VARCHAR", "Bay of that next session.", nullable=True, personal=KEY),
        Column("next_days", "INTEGER", "Days until that next session.", "days", True, 1),
        *block_columns("next", "next session's first block"),
        Column("excluded_reason", "VARCHAR", "Why the episode is left out for this metric; not measured: no ball of "
               "its bay has it that night.", nullable=True,
               values=("not measured", "too few shots", "event between", "no consent", "end not known",
                       "drill not logged")),
    ),
)  # fmt: skip

FREE_ARM = Table(
    "core.free_arm",
    "one lesson in which a drill trial's lot gave free balls, and one metric: the free shots before they began, and "
    "those balls up to the trial's number, the next drill or the end; read by the trial alone, no drill episode",
    ("trial_id", "session_id", "metric"),
    (
        TRIAL_ID,
        STUDENT_ID,
        SESSION_ID,
        BAY_ID,
        NIGHT,
        CLUB,
        CLUB_GROUP,
        Column("begins_at", "TIMESTAMP", "When the free balls began, the site's local time."),
        BEGUN_BY,
        Column("balls", "BIGINT", "Free balls struck from then to the next drill or the end, with any club.", "shots",
               low=0),
        Column("most_balls", "INTEGER", "The most balls that the trial takes; those beyond are in no block.", "shots",
               low=1),
        Column("followed_by_drill", "BOOLEAN", "A drill followed in the session: left out of retention."),
        METRIC_COLUMN,
        *block_columns("pre", "block before"),
        *block_columns("post", "block of the free balls"),
        NEXT_SESSION_ID,
        Column("next_days", "INTEGER", "Days until that next session.", "days", True, 1),
        *block_columns("next", "next session's first block"),
        Column("excluded_reason", "VARCHAR", "Why the trial leaves it out for this metric.", nullable=True,
               values=("too few shots", "event between", "no consent")),
    ),
)  # fmt: skip

TABLES = (DRILL_EPISODE, EPISODE_METRIC, FREE_ARM)
