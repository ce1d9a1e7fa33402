"""Mart tables about drills: what they did, to whom, how surely. Carry is in carry_mart.py."""

from __future__ import annotations

from warehouse.schema.core import CLUB_GROUP, DRILL_ID, METRIC_COLUMN, NIGHT, STUDENT_ID
from warehouse.schema.declaration import KEY, PERSON, WORDS, Column, Table
from warehouse.schema.episode_core import TIMINGS
from warehouse.schema.mart import MEASURES
from warehouse.schema.metrics import CLUB_GROUPS

GROUP_OR_ANY = Column(
    "club_group", "VARCHAR", "Club group, or any for a drill over all groups.", values=(*CLUB_GROUPS, "any")
)
HORIZON = Column(
    "horizon", "VARCHAR", "transfer: same session, aid removed; retention: still there next session.",
    values=("transfer", "retention"),
)  # fmt: skip
MEASURE = Column(
    "measure", "VARCHAR", "centre; distance (side of the target times centre less target; down is better); spread (log "
    "of the winsorised SD).", values=MEASURES,
)  # fmt: skip
VERDICTS = (
    "works", "helps", "unclear", "no meaningful effect", "wrong way", "depends on assumptions", "too early",
)  # fmt: skip


def estimated(name: str, description: str, unit: str = "metric") -> Column:
    """Return a nullable number of an estimate."""
    return Column(name, "DOUBLE", description, unit, True)


def share(name: str, description: str) -> Column:
    """Return a nullable share between 0 and 1."""
    return Column(name, "DOUBLE", description, "share", True, 0, 1)


DRILL = Table(
    "mart.drill",
    "one drill",
    ("drill_id",),
    (
        DRILL_ID,
        Column("name", "VARCHAR", "Name of the drill.", personal=WORDS),
        Column("aim_metric", "VARCHAR", "The number it aims at; null: no bay measures it.", nullable=True),
        Column("aim_direction", "VARCHAR", "raise, lower or toward.", nullable=True,
               values=("raise", "lower", "toward")),
        Column("aim_target", "DOUBLE", "The target, where the aim is toward one.", "metric", True),
        Column("club_group", "VARCHAR", "The clubs it is for.", values=(*CLUB_GROUPS, "any")),
        Column("setup", "VARCHAR", "How it is set up.", nullable=True, personal=WORDS),
        Column("caution", "VARCHAR", "What to take care of; the coach on site decides.", nullable=True, personal=WORDS),
        Column("episodes", "BIGINT", "Times it was done so far.", low=0),
        Column("uses_per_week", "DOUBLE", "Mean over the last four weeks.", "per week", True, 0),
        Column("last_used", "DATE", "Last day it was done.", nullable=True),
    ),
)  # fmt: skip

DRILL_STOP = Table(
    "mart.drill_stop",
    "one drill and reason for which it was stopped",
    ("drill_id", "kind"),
    (
        DRILL_ID,
        Column("kind", "VARCHAR", "Why it was stopped.", values=("pain", "aid struck", "rebound")),
        Column("stops", "BIGINT", "How often it was stopped for this.", low=1),
        Column("last_on", "DATE", "When it was last stopped for this."),
    ),
)

DRILL_EFFECT = Table(
    "mart.drill_effect",
    "one drill, metric, measure, club group and horizon: its effect beyond free practice",
    ("drill_id", "metric", "measure", "club_group", "horizon"),
    (
        DRILL_ID,
        METRIC_COLUMN,
        MEASURE,
        GROUP_OR_ANY,
        HORIZON,
        Column("episodes", "BIGINT", "Episodes in the effect.", low=0),
        Column("students", "BIGINT", "Students in the effect.", "students", low=0),
        Column("coaches", "BIGINT", "Coaches in whose lessons it was done.", low=0),
        share("drawn_share", "Share of the episodes whose drill was chosen by lot."),
        estimated("naive_change", "Before to after, as it looks: after less before over exactly these episodes."),
        estimated("effect", "Change beyond free practice, signed as the metric is."),
        estimated("ci_low", "Lower end of the 95% interval."),
        estimated("ci_high", "Upper end of the 95% interval."),
        estimated("check_effect", "The second estimator: own free practice as control."),
        estimated("check_low", "Lower end of its 95% interval."),
        estimated("check_high", "Upper end of its 95% interval."),
        share("p_value", "The larger p of the two estimators; 1 where they disagree in sign."),
        share("q_value", "The same with false discoveries controlled within its family (Benjamini & Hochberg 1995)."),
        estimated("shrunk_effect", "Effect after partial pooling with drills of the same aim: for ranking."),
        estimated("shrunk_low", "Lower end of its 95% interval."),
        estimated("shrunk_high", "Upper end of its 95% interval."),
        share("responder_share", "Share of students with two or more episodes whose own response beyond the smallest "
              "change that matters is at least 90% probable."),
        share("free_practice_responder_share", "The share of free practice that the same rule would call responders."),
        Column("verdict", "VARCHAR", "The verdict by the rules of EVIDENCE.md; null where nothing says what better "
               "is.", nullable=True, values=VERDICTS),
        Column("certainty", "VARCHAR", "high, moderate, low or very low.", nullable=True,
               values=("high", "moderate", "low", "very low")),
        Column("certainty_reason", "VARCHAR", "Why the certainty is what it is, in words.", nullable=True),
        Column("verdict_reason", "VARCHAR", "What the verdict rests on, or what is missing.", nullable=True),
        Column("not_estimable_reason", "VARCHAR", "Why there is no effect in this row.", nullable=True),
        Column("is_aim", "BOOLEAN", "The drill aims at this metric by this measure; else a side effect."),
        estimated("matters_from", "Smallest change that matters, for this measure."),
        Column("better", "VARCHAR", "Which way is better here: up or down; null where nothing says.", nullable=True,
               values=("up", "down")),
        estimated("standard_error", "Standard error of the effect, students as the unit."),
        estimated("check_error", "Standard error of the second estimator."),
        Column("df", "DOUBLE", "Degrees of freedom of the intervals.", nullable=True),
        Column("left_out_followed_by_drill", "BIGINT", "Retention: episodes left out since another drill followed.",
               nullable=True, low=0),
        share("followed_share", "Retention: share of the episodes followed up."),
        Column("comparator_alone", "BIGINT", "Free-practice episodes of students on their own, in the fit.",
               nullable=True, low=0),
        Column("comparator_with_coach", "BIGINT", "Free-practice episodes in lessons without a drill, in the fit.",
               nullable=True, low=0),
        Column("comparator", "VARCHAR", "What the effect was compared with, in words.", nullable=True),
        estimated("free_change", "What free practice alone would have given these episodes."),
        estimated("effect_beyond_lesson", "Effect against lessons without a drill only, where there are enough."),
        estimated("beyond_lesson_low", "Lower end of its 95% interval."),
        estimated("beyond_lesson_high", "Upper end of its 95% interval."),
        estimated("drawn_effect", "Effect over episodes drawn by lot only, from 10 students."),
        estimated("drawn_low", "Lower end of its 95% interval."),
        estimated("drawn_high", "Upper end of its 95% interval."),
        share("robustness_value", "How strong an unmeasured reason would have to be, as a share of the residual "
              "variance of both choice and result, to bring the effect to zero (Cinelli & Hazlett 2020)."),
        estimated("placebo_effect", "What free practice of the same students, chosen as the drill's episodes were, "
                  "seems to do by the same method; no drill did it."),
        estimated("placebo_low", "Lower end of its 95% interval."),
        estimated("placebo_high", "Upper end of its 95% interval."),
        estimated("lean_removed", "How much chosen episodes seem to do more than drawn ones, over all drills, taken "
                  "off this effect; null where lots show no lean."),
        estimated("widened_by", "Standard deviation of systematic error carried in the intervals: placebo drills, "
                  "lots, students' own trends."),
        estimated("trend_spread", "How far students differ in what they change by themselves: standard deviation.",
                  "metric per week"),
        Column("measured_change", "DOUBLE", "Transfer: change of the share of full swings that the bay measured, "
               "beyond free practice's.", "share", True, -1, 1),
        estimated("selection_shift", "By how much balls lost could account for an effect at most (trimming bound of "
                  "Lee 2009); part of the intervals, 0 where the share measured did not clearly change."),
        estimated("trend_to_explain", "How much faster than others those who did it would have to improve by "
                  "themselves to explain the effect away (its interval's end nearest zero).", "metric per week"),
    ),
)  # fmt: skip

PLACEBO_CHECK = Table(
    "mart.placebo_check",
    "one horizon and metric, aims and side effects apart: does the method hold here? Placebo drills are moments of "
    "free practice chosen as drills are, run through the same method",
    ("horizon", "metric", "is_aim"),
    (
        HORIZON,
        METRIC_COLUMN,
        Column("is_aim", "BOOLEAN", "Placebos of what drills aim at; else of side effects."),
        Column("placebos", "BIGINT", "Placebo drills: drill and club group, from 10 students.", low=1),
        share("held_share", "Share of placebo intervals (95%) that hold zero."),
        share("called_share", "Share of placebos that lie beyond zero on the better side: what would have passed for a "
              "drill that helps. 2.5% would be luck."),
        Column("lean", "DOUBLE", "Mean placebo effect toward the better side, in smallest changes that matter.",
               "smallest change that matters", True),
    ),
)  # fmt: skip

AIM_MEASURE = Column("measure", "VARCHAR", "How the aim is measured: centre, or distance for aims toward a target.",
                     values=MEASURES)  # fmt: skip

DRILL_FORECAST = Table(
    "mart.drill_forecast",
    "one student and drill: the change beyond free practice to expect of the next episode",
    ("student_id", "drill_id", "metric", "club_group"),
    (
        STUDENT_ID,
        DRILL_ID,
        METRIC_COLUMN,
        CLUB_GROUP,
        estimated("expected_effect", "Expected change beyond free practice."),
        estimated("interval_low", "Lower end of the 80% prediction interval."),
        estimated("interval_high", "Upper end of the 80% prediction interval."),
        AIM_MEASURE,
        Column("episodes", "BIGINT", "Episodes of this drill the student has done.", nullable=True, low=0),
        estimated("gap", "How far the student usually is from the aim."),
        estimated("free_practice_change", "What free practice alone is expected to change."),
        Column("reason", "VARCHAR", "Why there is no number.", nullable=True),
        Column("past_forecasts", "BIGINT", "Past episodes of this drill, each held against the forecast that earlier "
               "days would have given.", nullable=True, low=0),
        share("past_held_share", "Share of those that intervals as wide as this one's would have held; 80% is meant. "
              "Their width follows the record of all drills of the academy."),
    ),
)  # fmt: skip

STUDENT_RESPONSE = Table(
    "mart.student_response",
    "one student's own response to one drill, or one place in the strip that luck alone would show",
    ("drill_id", "metric", "club_group", "strip", "place"),
    (
        DRILL_ID,
        METRIC_COLUMN,
        AIM_MEASURE,
        GROUP_OR_ANY,
        Column("strip", "VARCHAR", "drill: a student's response; free_practice: what the same rule shows without any "
               "drill.", values=("drill", "free_practice")),
        Column("place", "BIGINT", "Place in the strip, by response.", low=1),
        STUDENT_ID.optional(),
        Column("episodes", "BIGINT", "Episodes the student has done.", low=1),
        estimated("response", "Response beyond free practice after partial pooling."),
        estimated("response_low", "Lower end of its 95% interval."),
        estimated("response_high", "Upper end of its 95% interval."),
        share("probability", "Probability of being better by more than the smallest change that matters."),
        Column("responder", "BOOLEAN", "At least 90% probable; null under two episodes.", nullable=True),
    ),
)  # fmt: skip

DRILL_SIDE_EFFECT = Table(
    "mart.drill_side_effect",
    "one drill, club group and outcome: mishits and unmeasured shots before and after",
    ("drill_id", "club_group", "outcome"),
    (
        DRILL_ID,
        GROUP_OR_ANY,
        Column("outcome", "VARCHAR", "mishit_share, or unmeasured_share (the aim's number missing).",
               values=("mishit_share", "unmeasured_share")),
        Column("episodes", "BIGINT", "Episodes the row rests on.", low=0),
        Column("students", "BIGINT", "Students the row rests on.", "students", low=0),
        share("before", "Share of free balls before the drill."),
        share("after", "Share of free balls after the drill."),
        estimated("naive_change", "After less before, as it looks.", "share"),
        estimated("effect", "Change of the share beyond free practice.", "share"),
        estimated("ci_low", "Lower end of the 95% interval.", "share"),
        estimated("ci_high", "Upper end of the 95% interval.", "share"),
        estimated("check_effect", "The change by the second estimator.", "share"),
        Column("warning", "BOOLEAN", "The drill worsens the share by at least the set amount."),
        Column("warning_reason", "VARCHAR", "The warning in words.", nullable=True),
    ),
)  # fmt: skip

SUBGROUP_EFFECT = Table(
    "mart.subgroup_effect",
    "one drill, aim, characteristic of students and level of it: does the effect differ?",
    ("drill_id", "metric", "club_group", "characteristic", "level"),
    (
        DRILL_ID,
        METRIC_COLUMN,
        AIM_MEASURE,
        GROUP_OR_ANY,
        Column("characteristic", "VARCHAR", "handicap, handed, age or starting gap."),
        Column("level", "VARCHAR", "The group of students; null where too few could be compared.", nullable=True),
        Column("episodes", "BIGINT", "Episodes the row rests on.", nullable=True, low=0),
        Column("students", "BIGINT", "Students the row rests on.", "students", True, 0),
        estimated("effect", "Effect in this group."),
        estimated("ci_low", "Lower end of the 95% interval."),
        estimated("ci_high", "Upper end of the 95% interval."),
        share("p_value", "Of any difference by this characteristic."),
        share("q_value", "The same, multiplicity controlled over all drills and characteristics."),
        Column("finding", "VARCHAR", "In words: differs, no difference found, or too few."),
    ),
)

DRILL_LOG_READING = Table(
    "mart.drill_log_reading",
    "one drill of the log held against the balls: when it was logged and when the balls say it ran; one logged without "
    "times; or a lesson without an entry whose pauses look like a drill",
    ("lesson_id", "drill_id", "logged_begins_at"),
    (
        NIGHT,
        Column("lesson_id", "VARCHAR", "The lesson, by its id in lessons.csv.", personal=PERSON),
        STUDENT_ID,
        Column("drill_id", "VARCHAR", "The drill; null where nobody logged one.", nullable=True, personal=KEY),
        Column("logged_begins_at", "TIMESTAMP", "When the log says that it began, the site's local time.",
               nullable=True),
        Column("logged_ends_at", "TIMESTAMP", "When the log says that it ended.", nullable=True),
        Column("begins_at", "TIMESTAMP", "When it began by the pauses between balls (as logged where they agree).",
               nullable=True),
        Column("ends_at", "TIMESTAMP", "When it ended by the pauses between balls; null: not known.", nullable=True),
        Column("timing", "VARCHAR", "How begin and end were found, or without times: no block is cut from that row and "
               "its lesson is no free practice.", values=(*TIMINGS, "without times")),
        share("timing_doubt", "Probability that begin or end lies more than a ball from where it stands."),
        Column("drill_shots", "BIGINT", "Balls struck between begin and end.", "shots", True, 0),
    ),
)  # fmt: skip

TABLES = (
    DRILL, DRILL_LOG_READING, DRILL_STOP, DRILL_EFFECT, DRILL_FORECAST, STUDENT_RESPONSE, DRILL_SIDE_EFFECT,
    SUBGROUP_EFFECT, PLACEBO_CHECK,
)  # fmt: skip
