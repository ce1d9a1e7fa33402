"""A running trial on the page: who was entered, harm first, balance, adherence, the next look, its end.

No outcome by group is shown here; counts by group only to who plans. Not here: the result (trial_result.py).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from functools import partial
from typing import Any

import polars as pl
import streamlit as st
from sqlalchemy.exc import SQLAlchemyError

from dashboard.charts import trial_recruitment
from dashboard.notebook import store as notebook_store
from dashboard.shell import access, chart_cache, components, query_cache
from dashboard.shell.outside_text import neutralise_markdown
from dashboard.shell.page_context import Reading
from dashboard.text import notebook, trial_sentences
from dashboard.text import trials as words
from dashboard.text.drill_sentences import day
from dashboard.trials import harm as trial_harm
from dashboard.trials import report_html, suggestions
from dashboard.trials.listing import Trial, arm_name, drill_names, shown_of
from warehouse.notebook.store import NotebookRefused, Store, current
from warehouse.query.guard import to_csv_safe
from warehouse.trials import book, follow, gates, snapshot

SAID = "trials-said"
DECIDED = ("stop: difference found", "stop: harm")


def said() -> None:
    """Show what came of the last tap."""
    kind, text = st.session_state.pop(SAID, ("", ""))
    if kind:
        {"done": st.success, "refused": st.error, "stop": st.warning}[kind](text)


def attempt(write: Callable[[], Any], done: Callable[[Any], tuple[str, str]]) -> None:
    """Write, and say what came of it on the page drawn next."""
    try:
        st.session_state[SAID] = done(write())
    except (NotebookRefused, ValueError, FileNotFoundError, FileExistsError) as refused:
        st.session_state[SAID] = ("refused", neutralise_markdown(str(refused)))
    except (SQLAlchemyError, OSError):
        st.session_state[SAID] = ("refused", notebook.NOT_WRITTEN)


def show(read: Reading, trial: Trial, today: date) -> None:
    """Show how a running trial does, through the night published or the latest entry, whichever is later."""
    store, con = notebook_store.opened(read.home), query_cache.connection(read.path).cursor()
    state = follow.state(store, con, trial.trial_id, follow.known_through(store, con, trial.trial_id, today))
    harm(read, trial, state)
    taken = looks_taken(store, trial)
    decided = taken.filter(pl.col("decision").is_in(DECIDED))
    if decided.height:
        st.warning(words.DECISIONS[decided["decision"][-1]])
    components.answer(state.sentence)
    if state.open_to:
        st.markdown(trial_sentences.narrowed(trial.plan, state.ineligible).strip())
    st.subheader(words.SECTIONS["recruitment"])
    rows = state.recruitment
    lines = [trial_sentences.recruited(row) for row in rows.iter_rows(named=True)]
    chart = chart_cache.drawn(trial_recruitment.chart, rows, trial.plan.students, components.look())
    components.picture(chart, lines, rows, "recruitment", words.KEY_RECRUITMENT)
    groups(read, trial, state)
    next_look(read, trial, state, taken)


def harm(read: Reading, trial: Trial, state: follow.State) -> None:
    """Say first what went wrong, and offer to stop at once."""
    names = drill_names(read)
    wrong = {drill: safety for drill, safety in state.safety.items() if safety.decision != "go on"}
    for drill, safety in wrong.items():
        st.warning(trial_sentences.safety(names.get(drill, drill), safety.sentence))
    if wrong and suggestions.may_plan():
        trial_harm.form(trial, "first", partial(end, read, trial))


def groups(read: Reading, trial: Trial, state: follow.State) -> None:
    """Say whether it is done as drawn and, to who plans, by group; whether the groups were alike at the start."""
    names, shown = drill_names(read), shown_of(read, trial.plan)
    st.subheader(words.SECTIONS["adherence"])
    arms = list(state.arms.iter_rows(named=True))
    st.markdown(trial_sentences.adherence(arms, "turn" if trial.plan.kind == "crossover" else "lot"))
    if not suggestions.may_plan():
        st.caption(words.ASSIGNED_HELP)
        return
    if arms:
        components.told([trial_sentences.arm_line(row, names) for row in arms], ("group",), "arms")
    if state.balance.height:
        st.markdown(f"**{words.SECTIONS['balance']}**")
        rows = state.balance.iter_rows(named=True)
        told = [trial_sentences.balance(row, names, shown, trial.plan.treatments[0]) for row in rows]
        st.markdown("\n".join(f"- {one}" for one in told))
        components.words_used("balance", "follow-up", "as drawn")
    st.markdown(f"**{words.SECTIONS['harm']}**")
    told = [trial_sentences.safety(names.get(drill, drill), one.sentence) for drill, one in state.safety.items()]
    st.markdown("\n".join(f"- {one}" for one in told))
    lots = book.lots_so_far(notebook_store.opened(read.home), trial.trial_id)
    if lots.height:
        access.download(
            words.LOTS_DOWNLOAD, lambda: to_csv_safe(lots), f"lots-{trial.trial_id}.csv", "text/csv", home=read.home,
            key=f"lots-{trial.trial_id}",
        )  # fmt: skip
        lines = [
            (row["student_id"], arm_name(row["arm"], names), day(row["entered_at"]))
            for row in lots.iter_rows(named=True)
        ]
        access.download(
            words.LOTS_PRINT, lambda: report_html.lots(trial.plan.title, lines).encode(),
            f"lots-{trial.trial_id}.html", "text/html", home=read.home, key=f"lots-print-{trial.trial_id}",
        )  # fmt: skip
    st.caption(words.ASSIGNED_HELP)


def looks_taken(store: Store, trial: Trial) -> pl.DataFrame:
    """Return the looks taken, the first first."""
    return current(store, "trial_look").filter(pl.col("trial_id") == trial.trial_id).sort("entered_at")


def next_look(read: Reading, trial: Trial, state: follow.State, taken: pl.DataFrame) -> None:
    """Say what the rule allows next, and let who plans take a look."""
    names = drill_names(read)
    st.subheader(words.SECTIONS["look"])
    counted = taken.filter(pl.col("decision") != "too early to look")
    before = float(counted["information"].max()) if counted.height else None
    measured = int(state.arms["followed"].sum()) if state.arms.height else 0
    if trial.plan.kind == "crossover":
        measured = int(state.arms["followed"].min() or 0) if state.arms.height else 0
    st.markdown(trial_sentences.next_look(trial, measured, before))
    components.words_used("looks", "information")
    told = trial_sentences.looks(list(taken.iter_rows(named=True)), names)
    st.markdown(f"**{words.LOOKS_TAKEN}.** " + ("" if told else words.NO_LOOKS))
    if told:
        st.markdown("\n".join(f"- {one}" for one in told))
    if suggestions.may_plan():
        st.button(words.LOOK, key=f"look-{trial.trial_id}", on_click=look, args=(read, trial))
        st.caption(words.LOOK_HELP)


def look(read: Reading, trial: Trial, last: bool = False) -> None:
    """Take a look and keep it."""
    store, con = notebook_store.opened(read.home), query_cache.connection(read.path).cursor()
    on = read.publication["through_night"]
    names = drill_names(read)

    def told(looks: dict[str, Any]) -> tuple[str, str]:
        kind = "stop" if any(one.decision in DECIDED for one in looks.values()) else "done"
        return kind, trial_sentences.looked({arm: one.decision for arm, one in looks.items()}, names)

    attempt(
        lambda: follow.take_look(store, con, trial.trial_id, on=on, by=access.current().who, last=last), told
    )  # fmt: skip


def ending(read: Reading, trial: Trial) -> None:
    """Let who plans end a trial, once they say that they mean it."""
    with st.expander(words.SECTIONS["end"]):
        st.markdown(words.END_HELP)
        sure = st.checkbox(words.END_SURE, key=f"sure-{trial.trial_id}")
        st.button(words.END, disabled=not sure, key=f"end-{trial.trial_id}", on_click=end, args=(read, trial))
        st.divider()
        trial_harm.form(trial, "last", partial(end, read, trial))


def end(read: Reading, trial: Trial, kind_key: str = "", words_key: str = "") -> None:
    """End a trial: the secret is opened and every lot drawn anew; with keys, for the harm that was said."""
    store, on = notebook_store.opened(read.home), suggestions.today_of(read)
    harm, said = (st.session_state.get(key) if key else None for key in (kind_key, words_key))
    con = query_cache.connection(read.path).cursor()

    def end_and_freeze() -> list[str]:
        faults = book.end(
            store, read.home.folder, trial_id=trial.trial_id, on=on, by=access.current().who, harm=harm,
            harm_words=said or "", today=gates.latest_day(con),
        )  # fmt: skip
        snapshot.freeze(store, con, trial.trial_id, access.current().who)
        return faults

    attempt(
        end_and_freeze,
        lambda faults: (
            ("stop", f"{words.ENDED} {words.NOT_HONEST} {' '.join(faults)}")
            if faults
            else ("done", f"{words.ENDED} {words.HONEST}")
        ),
    )
