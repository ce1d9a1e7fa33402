"""What the night made of the last session: its shots in time with the drills shaded, and which drills counted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import polars as pl
import streamlit as st

from dashboard.charts import session_timeline
from dashboard.notebook import bay_and_student, goal, store
from dashboard.notebook.actions import Place
from dashboard.shell import access, chart_cache, components
from dashboard.shell.page_context import Reading
from dashboard.text import notebook as words
from dashboard.text import notebook_sentences
from dashboard.text.drill_sentences import Row, day
from warehouse.settings import settings

GAP_SECONDS = 60
FEW = 4


@dataclass(frozen=True)
class Gaps:
    """The gaps between the balls of a session: (what to read, middle, seconds), in order; the last is after the end."""

    night: date | None
    bay_id: str
    options: list[tuple[str, datetime, float]]


def latest(read: Reading, student_id: str) -> Row | None:
    """Return a student's last published session."""
    rows = read.ask("session_latest", student_id=student_id)
    return rows.row(0, named=True) if rows.height else None


def gaps(read: Reading, student_id: str) -> Gaps:
    """Return the gaps between a student's last published balls, over a minute long; last, after the last ball."""
    session = latest(read, student_id)
    if session is None:
        return Gaps(None, "", [])
    shots = read.ask("session_shots", session_id=session["session_id"])
    found = (
        shots.filter(pl.col("seconds_before") > GAP_SECONDS)
        .with_columns(pl.duration(seconds=pl.col("seconds_before")).alias("long"))
        .select(
            pl.col("ball") - 1,
            (pl.col("struck_at_local") - pl.col("long")).alias("begins"),
            pl.col("struck_at_local").alias("ends"),
            (pl.col("struck_at_local") - pl.col("long") / 2).alias("middle"),
            "seconds_before",
        )
    )
    options = [
        (notebook_sentences.gap(ball, begins, ends), middle, seconds)
        for ball, begins, ends, middle, seconds in found.iter_rows()
    ]
    options.append((words.TO_THE_END, shots["struck_at_local"].max() + timedelta(seconds=1), 0.0))
    return Gaps(session["night"], session["bay_id"], options)


def logged_then(read: Reading, place: Place, starts_at: datetime, ends_at: datetime) -> Row | None:
    """Return a published drill of the student that ran between two times, logged elsewhere than in the notebook."""
    night = starts_at.date()
    drills = read.ask("night_episodes", night=night, coach_id=None, session_id=None)
    entered = store.begun(place.store, place.student_id)  # how those stand is the notebook's to say
    met = drills.filter(
        (pl.col("student_id") == place.student_id)
        & ~pl.col("begins_at").is_in(entered)
        & (pl.col("begins_at") < ends_at)
        & (pl.col("ends_at") > starts_at)
    ).rename({"begins_at": "starts_at"})
    return met.row(0, named=True) if met.height else None


def number_for(read: Reading, place: Place, shots: pl.DataFrame) -> tuple[str, str]:
    """Let the coach choose the number drawn: the student's own first; of those the session measured."""
    measured = [metric for metric in dict.fromkeys(read.metrics["metric"]) if shots[metric].null_count() < shots.height]
    group = shots["club_group"].mode().sort()[0]
    own = bay_and_student.goal_number(read, place.student_id, goal.latest(read, place.student_id))
    names = {metric: read.shown(metric, group).label for metric in measured}
    default = own[1] if own and own[1] in names else "ball_speed"
    return components.choose(words.SHOWN_NUMBER, names, "shown", default), group


def stretches(shots: pl.DataFrame, metric: str, names: dict[str, str]) -> list[Row]:
    """Return the session's stretches in order: free balls, and each drill."""
    return (
        shots.with_columns(
            pl.when(pl.col("phase") == "drill")
            .then(pl.col("episode_id").replace_strict(names, default="a drill"))
            .otherwise(pl.lit("free balls"))
            .alias("stretch")
        )
        .group_by(pl.col("stretch").rle_id().alias("place"), "stretch", maintain_order=True)
        .agg(
            pl.len().alias("shots"),
            pl.col(metric).count().alias("measured"),
            pl.col("struck_at_local").min().alias("begins_at"),
            pl.col("struck_at_local").max().alias("ends_at"),
        )
        .to_dicts()
    )


def last_session(read: Reading, place: Place) -> None:
    """Draw the balls of the last published session as dots in time, the drills shaded."""
    components.section(words.SECTIONS["shots"])
    session = latest(read, place.student_id)
    if session is None:
        st.markdown(words.NO_SESSION)
        return
    shots = read.ask("session_shots", session_id=session["session_id"])
    drills = read.ask("night_episodes", night=session["night"], coach_id=None, session_id=session["session_id"])
    st.markdown(notebook_sentences.session(session, len(gaps(read, place.student_id).options) - 1))
    metric, group = number_for(read, place, shots)
    shown = read.shown(metric, group)
    chart = chart_cache.drawn(
        session_timeline.chart, shots, drills, session["ends_at"], shown, components.look(), shown.label
    )
    rows = stretches(shots, metric, dict(drills.select("episode_id", "name").iter_rows()))
    lines = [notebook_sentences.stretch(row, shown.label) for row in rows]
    components.picture(chart, lines, shots, "session-shots", session_timeline.KEY)


def counted(read: Reading, place: Place | None) -> None:
    """Say which drills of the last night counted and why others did not: a coach's own, else all of the night."""
    components.section(words.SECTIONS["counted"])
    coach = access.current().coach_id
    session = latest(read, place.student_id) if place else None
    night = session["night"] if session else read.publication["through_night"]
    if night is None:
        st.markdown(words.NO_SESSION)
        return
    session_id = session["session_id"] if session else None
    rows = read.ask("night_episodes", night=night, session_id=session_id, coach_id=None if session else coach)
    if rows.is_empty():
        none = words.NO_EPISODES_OF if place else words.NO_EPISODES
        st.markdown(none.format(night=day(night)))
        return
    needed = settings.load(read.home.folder).episodes.min_block_shots
    told = list(rows.iter_rows(named=True))
    st.markdown(notebook_sentences.counted(told))
    left_out, in_blocks = [], []
    for row in told:
        aim = row["aim_metric"]
        name = read.shown(aim, row["club_group"] or "any").label if aim else None
        kept = in_blocks if notebook_sentences.counts(row) else left_out
        kept.append(f"- {notebook_sentences.episode(row, name, needed)}")
    if len(told) <= FEW:
        st.markdown("\n".join([*left_out, *in_blocks]))
        return
    st.markdown("\n".join(left_out))
    if in_blocks:
        with st.expander(words.COUNTED):
            st.markdown("\n".join(in_blocks))
    if place is None and coach is None:
        st.caption(words.ALL_COACHES)
