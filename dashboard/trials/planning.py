"""A trial planned on the page: which drills for which number, how many students, what a thin trial would tell, begin.

Not here: the calculation (warehouse/trials/planning.py), what is written (warehouse/trials/book.py).
"""

from __future__ import annotations

from datetime import date
from typing import Any

import polars as pl
import streamlit as st

from dashboard.charts import trial_power as power_chart
from dashboard.notebook import store as notebook_store
from dashboard.sections.goal_numbers import drill_rows
from dashboard.shell import access, chart_cache, choices, components, query_cache
from dashboard.shell.number_format import Shown
from dashboard.shell.page_context import Reading
from dashboard.text import notebook, trial_plan_sentences, trial_sentences
from dashboard.text import trials as words
from dashboard.text.drill_sentences import first_up, number_name
from dashboard.trials import eligibility, suggestions
from dashboard.trials import running as trial_running
from dashboard.trials.eligibility import Narrowed
from dashboard.trials.listing import drill_names
from warehouse.domain.trials.power import Design
from warehouse.domain.trials.randomisation import FREE_PRACTICE
from warehouse.trials import book, proposal
from warehouse.trials.proposal import Question

TOO_FEW = "too few students"
ALWAYS = "always valid"


@st.cache_data(max_entries=64, show_spinner="Reckoning from this academy's own spread …")
def needs_of(
    path: str, question: Question, design: Design, agree: float, rule: str, among: tuple[str, ...] | None
) -> dict[str, Any] | None:
    """Return what a trial needs (proposal.needs_of); None where the published file cannot say."""
    try:
        return proposal.needs_of(query_cache.connection(path).cursor(), question, design, agree, rule, among)
    except ValueError:
        return None


@st.cache_data(max_entries=64, show_spinner=False)
def sized(
    path: str, question: Question, design: Design, agree: float, rule: str, students: tuple[int, ...],
    among: tuple[str, ...] | None, of: float = 1.0,
) -> pl.DataFrame:  # fmt: skip
    """Return the curve (proposal.told_by) for other numbers of students or another size of difference."""
    return proposal.told_by(query_cache.connection(path).cursor(), question, design, agree, rule, students, among, of)


def show(read: Reading) -> None:
    """Let the director plan a trial."""
    question = asked(read)
    if question is None:
        return
    design, agree, rule = chosen_design(question)
    narrowed = eligibility.chosen(read, question.metric)
    if narrowed is None:
        return
    needs = needs_of(read.path, question, design, agree, rule, narrowed.among)
    if needs is None:
        components.answer(words.NOT_PLANNABLE)
        return
    components.answer(
        trial_plan_sentences.power(needs, shown_of(read, question), agree), "power", "drawn by lot", "equally good",
        "smallest change that matters",
    )  # fmt: skip
    cost = words.LOOKS_COST_ALWAYS if rule == ALWAYS else words.LOOKS_COST
    st.markdown(cost.format(times=f"{needs['times']:.2f}"))
    sizes = tuple(needs["curve"]["students"].to_list())
    double = sized(read.path, question, design, agree, rule, sizes, narrowed.among, 2.0)
    curve(read, question, agree, needs, double)
    begin_form(read, question, (design, agree, rule), needs, narrowed)
    st.caption(words.PLAN_SMALL_PRINT)


def asked(read: Reading) -> Question | None:
    """Let the director choose number and drills; say what speaks against drawing them."""
    numbers = read.ask("drill_choices")
    if numbers.is_empty():
        st.markdown(words.NO_AIMS)
        return None
    named = {
        f"{row['club_group']}.{row['metric']}": read.number(row["metric"], row["club_group"])
        for row in numbers.iter_rows(named=True)
    }
    group, metric = components.choose_number(words.NUMBER, named)
    rows, measure, better = drill_rows(read, group, metric)
    aims = rows.filter(pl.col("is_aim") & (pl.col("horizon") == "transfer")).unique("drill_id", maintain_order=True)
    names = dict(aims.select("drill_id", "name").iter_rows()) | {FREE_PRACTICE: words.FREE_PRACTICE_OPTION}
    wanted = [one for one in st.query_params.get("drills", "").split(",") if one in names]
    picked = st.multiselect(
        words.TREATMENTS, list(names), wanted or list(names)[:2], format_func=lambda one: names[one],
        key=f"treatments-{group}.{metric}-{','.join(wanted)}",
    )  # fmt: skip
    st.caption(words.WHO)
    if len(picked) < 2:
        st.markdown(words.FEW_TREATMENTS)
        return None
    wrong = aims.filter(pl.col("drill_id").is_in(picked) & (pl.col("verdict") == "wrong way"))
    for name in wrong["name"]:
        st.error(words.WRONG_WAY.format(drill=name))
    if wrong.height or better is None:
        return None
    # Free practice is what the others are compared with, where it is among them.
    treatments = tuple(sorted(picked, key=lambda one: one != FREE_PRACTICE))
    targets = aims.filter(pl.col("drill_id").is_in(picked))["aim_target"].drop_nulls()
    speaks_against(read, metric, group, treatments)
    return Question(
        treatments, metric, measure, group, 1.0 if better == "up" else -1.0, float(aims["matters_from"][0]),
        float(targets[0]) if targets.len() else 0.0, {},
    )  # fmt: skip


def shown_of(read: Reading, question: Question) -> Shown:
    """Return how the question's number is shown."""
    return read.shown(question.metric, question.club_group, question.measure)


def speaks_against(read: Reading, metric: str, group: str, treatments: tuple[str, ...]) -> None:
    """Say of each pair how open it is, and each drill's caution."""
    names = drill_names(read)
    pairs = suggestions.drill_pairs(read).filter(
        (pl.col("metric") == metric) & (pl.col("club_group") == group)
        & pl.col("drill_id").is_in(treatments) & pl.col("against").is_in(treatments)
    )  # fmt: skip
    for row in pairs.iter_rows(named=True):
        if row["reason"] and row["reason"].startswith(TOO_FEW):
            continue  # the answer beneath says it, for the design chosen here
        said = trial_plan_sentences.candidate(row, names, suggestions.number(read, row))
        (st.warning if row["reason"] else st.markdown)(said)
    drills = read.ask("drills").filter(pl.col("drill_id").is_in(treatments))
    for row in drills.iter_rows(named=True):
        components.caution(f"{row['name']}: {notebook.caution(row['caution'])}", f"plan-{row['drill_id']}")


def chosen_design(question: Question) -> tuple[Design, float, str]:
    """Let the director choose how lots are drawn and read."""
    left, middle, right = st.columns(3)
    # Free practice has no aid that goes down and comes up: as one turn of several it could not be told from the rest.
    kinds = [one for one in words.KINDS if one == "parallel" or FREE_PRACTICE not in question.treatments]
    kind = left.selectbox(
        words.KIND, kinds, format_func=lambda one: words.KINDS[one], key=f"plan-kind-{len(kinds)}"
    )  # fmt: skip
    horizon = middle.selectbox(
        words.HORIZON, list(words.HORIZONS), format_func=lambda one: words.HORIZONS[one], key="plan-horizon"
    )
    episodes = right.number_input(words.EPISODES, 1, 6, 1, key="plan-episodes")
    left, right = st.columns(2)
    agree = left.slider(words.AGREE, 10, 100, 70, 5, key="plan-agree")
    followed = right.slider(words.FOLLOWED, 30, 100, round(100 * suggestions.FOLLOWED), 5, key="plan-followed")
    rule = st.selectbox(words.RULE, list(words.RULES), format_func=lambda one: words.RULES[one], key="plan-rule")
    st.caption(words.RULE_HELP[rule])
    design = Design(kind, horizon, len(question.treatments), int(episodes), followed=followed / 100)
    return design, agree / 100, rule


def curve(read: Reading, question: Question, agree: float, needs: dict[str, Any], double: pl.DataFrame) -> None:
    """Draw the power curve, for what matters and for twice as much, with its text twin."""
    rows, shown = needs["curve"], shown_of(read, question)
    told = [trial_plan_sentences.power_point(row, shown) for row in rows.iter_rows(named=True)]
    more = [f"{chance:.0%} for twice as much" for chance in double["power"]]
    drawn = pl.concat(
        [
            rows.select("students", "power", pl.lit(0).alias("size"), pl.Series("reads", told)),
            double.select("students", "power", pl.lit(1).alias("size"), pl.Series("reads", more)),
        ]
    )
    can = round(needs["candidates"] * agree)
    chart = chart_cache.drawn(power_chart.chart, drawn, components.look(), needs["students"], can)
    components.picture(chart, told, rows, "trial-power", words.KEY_POWER)


def begin_form(
    read: Reading, question: Question, how: tuple[Design, float, str], needs: dict[str, Any], narrowed: Narrowed
) -> None:
    """Say what a trial of the chosen size would tell, and let it begin; `how`: design, share who agree, rule."""
    design, agree, rule = how
    components.section(words.SECTIONS["thin"])
    shown = shown_of(read, question)
    least, default = needs["least"], needs["size"]
    left, middle, right = st.columns(3)
    students = int(left.number_input(words.STUDENTS, least, 2000, default, key=f"plan-students-{default}"))
    row = sized(read.path, question, design, agree, rule, (students,), narrowed.among).row(0, named=True)
    st.markdown(trial_plan_sentences.thin(row, shown))
    about = max(round(row["weeks"] or proposal.WEEKS_UNKNOWN), 1)
    weeks = middle.number_input(words.WEEKS, 1, 104, min(about, 104), key=f"plan-weeks-{about}")
    balls = right.number_input(
        words.BALLS, 5, 60, 20, 5, key="plan-balls", disabled=FREE_PRACTICE not in question.treatments
    )
    components.section(words.SECTIONS["begin"])
    names = drill_names(read)
    compared = trial_sentences.listed([names[one] for one in question.treatments])
    number = number_name(shown, question.club_group)
    title = st.text_input(
        words.TITLE, first_up(words.TITLE_DEFAULT.format(drills=compared, number=number)), max_chars=120,
        key=f"plan-title-{question.treatments}-{question.metric}",
    )  # fmt: skip
    begun_on = st.date_input(words.BEGUN_ON, suggestions.today_of(read), format="YYYY-MM-DD", key="plan-begun")
    even = st.checkbox(words.EQUIPOISE, key=f"plan-even-{question.treatments}")
    values = {
        "title": title.strip(), "students": students, "weeks": float(weeks), "rule": rule,
        "free_practice_balls": int(balls), "cohorts": narrowed.cohorts, "goal": narrowed.goal, "among": narrowed.among,
    }  # fmt: skip
    ready = even and bool(title.strip())
    st.button(
        words.BEGIN, type="primary" if ready else "secondary", disabled=not ready, key="plan-begin", on_click=begin,
        args=(read, question, design, values, begun_on),
    )  # fmt: skip
    st.caption(words.BEGIN_HELP)


def begin(read: Reading, question: Question, design: Design, values: dict[str, Any], begun_on: date) -> None:
    """Begin a trial: plan, secret and sum are kept; the page then shows it."""
    store, con = notebook_store.opened(read.home), query_cache.connection(read.path).cursor()
    trial_id = proposal.next_id(store)

    def written() -> str:
        plan = proposal.plan(con, question, design, trial_id=trial_id, **values)
        return book.begin(store, read.home.folder, plan, begun_on=begun_on, by=access.current().who)

    def told(commitment: str) -> tuple[str, str]:
        choices.keep("show", "trials")
        choices.keep("trial", trial_id)
        return "done", words.BEGUN.format(commitment=f"`{commitment}`")

    trial_running.attempt(written, told)
