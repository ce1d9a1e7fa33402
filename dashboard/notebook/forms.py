"""What is entered with more than a tap: a drill afterwards, what was seen, a goal, a hold.

Each form has the id of the entry it will make in its key: sent twice, it enters once.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Any

import polars as pl
import streamlit as st

from dashboard.notebook import actions as notebook_taps
from dashboard.notebook import goal as notebook_goal
from dashboard.notebook import holds as notebook_holds
from dashboard.notebook import last_session
from dashboard.notebook.actions import Place
from dashboard.shell import access
from dashboard.shell.page_context import Reading
from dashboard.text import notebook as words
from dashboard.text import notebook_sentences
from warehouse.notebook import actions
from warehouse.notebook.measures import measures

HOLD_DAYS = 28
HOLD_KINDS = ("drill", "aim")


def show(read: Reading, place: Place) -> None:
    """Show the forms, folded."""
    with st.expander(words.SECTIONS["afterwards"]):
        afterwards(read, place)
    with st.expander(words.SECTIONS["observation"]):
        observation(place)
    with st.expander(words.SECTIONS["goal"]):
        goal(read, place)
    with st.expander(words.SECTIONS["holds"]):
        holds(read, place)


def drill_names(read: Reading) -> dict[str, str]:
    """Return the drills' names."""
    return dict(read.ask("drills").select("drill_id", "name").iter_rows())


def drill_choice(read: Reading, key: str) -> str | None:
    """Let the coach choose any drill; none stands there before they do."""
    names = drill_names(read)
    return st.selectbox(
        words.DRILL, list(names), index=None, format_func=lambda one: names[one], key=key, placeholder=words.CHOOSE
    )


def afterwards(read: Reading, place: Place) -> None:
    """Enter a drill that is over: today's by two times, the last session's by the gaps between its balls."""
    st.caption(words.AFTER_HELP)
    ticket = place.ticket("after")
    drill_id = drill_choice(read, f"after-drill-{ticket}")
    gaps = last_session.gaps(read, place.student_id)
    bay_id = place.bay_id
    if asks_for_session(gaps, ticket):
        starts_at, ends_at, bay_id = of_session(gaps, ticket)
    else:
        starts_at, ends_at = times_of_today(place, ticket)
    st.button(
        words.ENTER, key=f"after-{ticket}", on_click=enter_afterwards, disabled=None in (drill_id, starts_at, ends_at),
        args=(read, place, ticket, drill_id, bay_id, starts_at, ends_at),
    )  # fmt: skip


def asks_for_session(gaps: last_session.Gaps, ticket: str) -> bool:
    """Let the coach say whether the drill was done today or in the last published session."""
    if len(gaps.options) < 2:
        return False
    which = {"today": words.AFTER_TODAY, "session": notebook_sentences.day(gaps.night)}
    when = st.segmented_control(
        words.AFTER_WHICH, list(which), format_func=lambda one: which[one], default="today", key=f"after-when-{ticket}"
    )
    return when == "session"


def times_of_today(place: Place, ticket: str) -> tuple[datetime | None, datetime | None]:
    """Let the coach set when the aid went down and came up."""
    now = place.now()
    left, right = st.columns(2)
    down = left.time_input(words.DOWN, None, step=60, key=f"after-down-{ticket}")
    up = right.time_input(words.UP, None, step=60, key=f"after-up-{ticket}")
    return on(now, down), on(now, up)


def on(day: datetime, clock: time | None) -> datetime | None:
    """Return a time of a day; none where none is given."""
    return None if clock is None else datetime.combine(day.date(), clock)


def of_session(gaps: last_session.Gaps, ticket: str) -> tuple[datetime | None, datetime | None, str]:
    """Let the coach point at the gaps in which the aid went down and came up."""
    told = {place: text for place, (text, _, _) in enumerate(gaps.options)}
    left, right = st.columns(2)
    down = left.selectbox(
        words.GAP_DOWN, list(told)[:-1], index=None, format_func=lambda one: told[one], placeholder=words.CHOOSE,
        key=f"after-gap-down-{ticket}",
    )  # fmt: skip
    later = [one for one in told if down is not None and one > down]
    up = right.selectbox(
        words.GAP_UP, later, index=None, format_func=lambda one: told[one], placeholder=words.CHOOSE,
        key=f"after-gap-up-{ticket}", disabled=down is None,
    )  # fmt: skip
    if down is None or up is None:
        return None, None, gaps.bay_id
    # The middle of a gap: no ball is nearer to it than half of it.
    return gaps.options[down][1], gaps.options[up][1], gaps.bay_id


def enter_afterwards(
    read: Reading, place: Place, ticket: str, drill_id: str, bay_id: str, starts_at: datetime, ends_at: datetime
) -> None:
    """Enter a drill that is over, unless another of the student's ran at that time."""
    names = drill_names(read)
    if starts_at < ends_at:
        met = last_session.logged_then(read, place, starts_at, ends_at)
        if met is not None:
            told = notebook_sentences.overlaps(met, names.get(met["drill_id"], met["drill_id"]))
            notebook_taps.say("refused", told)
            return
        if notebook_taps.meets(place, names, starts_at, ends_at, ticket):
            return
    notebook_taps.enter(
        place, "after", ticket, actions.begin_drill, "drill_entry",
        notebook_sentences.entered_afterwards(names[drill_id], starts_at, ends_at),
        drill_id=drill_id, starts_at=starts_at, ends_at=ends_at, student_id=place.student_id, bay_id=bay_id,
        placed_afterwards=True,
    )  # fmt: skip


def observation(place: Place) -> None:
    """Enter what was seen, from the list of measures."""
    st.caption(words.OBSERVATION_HELP)
    listed = measures(place.home.folder / "measures.csv")
    ticket = place.ticket("seen")
    measure = st.pills(words.MEASURE, listed["measure"].to_list(), key=f"seen-measure-{ticket}")
    if measure is None:
        return
    row = listed.row(by_predicate=pl.col("measure") == measure, named=True)
    st.markdown(row["description"])
    value = st.number_input(
        words.VALUE.format(unit=row["unit"]), row["low"], row["high"], value=None, step=1.0, format="%.1f",
        key=f"seen-value-{ticket}-{measure}",
    )  # fmt: skip
    st.button(
        words.ENTER, key=f"seen-{ticket}", disabled=value is None, on_click=enter_observation,
        args=(place, ticket, measure, value),
    )  # fmt: skip


def enter_observation(place: Place, ticket: str, measure: str, value: float) -> None:
    """Enter what was seen, now."""
    notebook_taps.enter(
        place, "seen", ticket, actions.observe, "observation", student_id=place.student_id, observed_at=place.now(),
        measure=measure, value=value, coach_id=access.current().coach_id,
        own_measures=place.home.folder / "measures.csv",
    )  # fmt: skip


@st.cache_data(max_entries=8, show_spinner=False)
def numbers(_read: Reading, path: str, system: str) -> dict[str, str]:
    """Return the numbers a goal can have, drills' aims first: "club group.metric" -> name."""
    read = _read
    both = pl.concat([frame.select("club_group", "metric") for frame in (read.ask("drill_choices"), read.metrics)])
    named = both.filter(pl.col("club_group") != "any").unique(maintain_order=True)
    both = [f"{group}.{metric}" for group, metric in named.iter_rows()]
    return {one: read.number(one.split(".")[1], one.split(".")[0]) for one in both}


def goal(read: Reading, place: Place) -> None:
    """Show the goal that stands, and let another be written."""
    standing = notebook_goal.latest(read, place.student_id)
    st.markdown(notebook_sentences.plain(notebook_goal.sentence(read, standing)) if standing else words.GOAL_NONE)
    ticket = place.ticket("goal")
    options = numbers(read, read.path, read.home.system)
    said = st.text_area(words.GOAL_WORDS, key=f"goal-words-{ticket}", max_chars=300, height=80)
    picked = st.selectbox(
        words.GOAL_NUMBER, list(options), format_func=lambda one: options[one], key=f"goal-number-{ticket}"
    )
    group, metric = picked.split(".")
    shown = read.shown(metric, group)
    left, right = st.columns(2)
    target = left.number_input(
        words.GOAL_TARGET.format(unit=shown.unit or "ratio"), value=None, format=f"%.{shown.decimals}f",
        step=10.0**-shown.decimals, key=f"goal-target-{ticket}-{picked}",
    )  # fmt: skip
    by = right.date_input(words.GOAL_BY, value=None, format="YYYY-MM-DD", key=f"goal-by-{ticket}")
    st.button(
        words.ENTER, key=f"goal-{ticket}", disabled=target is None or not said.strip(), on_click=enter_goal,
        args=(place, ticket),
        kwargs={
            "words": said, "metric": metric, "club_group": group, "by_date": by,
            "target": None if target is None else target * shown.per,
        },
    )  # fmt: skip


def enter_goal(place: Place, ticket: str, **values: Any) -> None:
    """Enter a goal."""
    notebook_taps.enter(place, "goal", ticket, actions.set_goal, "goal", student_id=place.student_id, **values)


def aims(read: Reading) -> dict[str, str]:
    """Return the aims that drills have, by name."""
    metrics = read.ask("drills")["aim_metric"].drop_nulls().unique(maintain_order=True)
    return {metric: read.shown(metric, "any").label for metric in metrics}


def holds(read: Reading, place: Place) -> None:
    """Show what is held with its release, and let more be held."""
    st.caption(words.HOLD_HELP)
    names = dict(read.ask("drills").select("drill_id", "name").iter_rows())
    aim_names = aims(read)
    for row in notebook_holds.in_force(read.home, place.student_id, place.now().date()).iter_rows(named=True):
        what = names.get(row["drill_id"], row["drill_id"]) if row["drill_id"] else aim_names.get(row["aim_metric"])
        left, right = st.columns([3, 1], vertical_alignment="center")
        left.markdown(notebook_sentences.hold(what or row["aim_metric"], row["until"]))
        right.button(
            words.RELEASE, key=f"release-{row['entry_id']}", on_click=notebook_taps.take_back,
            args=(place, "hold", row["entry_id"]),
        )  # fmt: skip
    ticket = place.ticket("hold")
    options = {f"drill.{one}": name for one, name in names.items()}
    options |= {f"aim.{one}": f"every drill that aims at {name}" for one, name in aim_names.items()}
    left, right = st.columns(2)
    picked = left.selectbox(
        words.HOLD_WHAT, list(options), format_func=lambda one: options[one], key=f"hold-what-{ticket}"
    )
    today = place.now().date()
    until = right.date_input(
        words.HOLD_UNTIL, today + timedelta(days=HOLD_DAYS), min_value=today + timedelta(days=1),
        format="YYYY-MM-DD", key=f"hold-until-{ticket}",
    )  # fmt: skip
    kind, what = picked.split(".", 1)
    st.button(
        words.ENTER, key=f"hold-{ticket}", on_click=enter_hold, args=(place, ticket),
        kwargs={"until": until, "drill_id" if kind == "drill" else "aim_metric": what},
    )  # fmt: skip


def enter_hold(place: Place, ticket: str, **values: Any) -> None:
    """Enter a hold."""
    notebook_taps.enter(place, "hold", ticket, actions.hold, "hold", student_id=place.student_id, **values)
