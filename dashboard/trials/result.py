"""A finished trial on the page: found, asked, drawn, measured, whether the lots were honest, the report.

Not here: the estimate (warehouse/trials/outcomes.py), the report's form (trial_report.py).
"""

from __future__ import annotations

from typing import Any

import polars as pl
import streamlit as st

from dashboard.charts import trial_effect
from dashboard.notebook import store
from dashboard.shell import access, chart_cache, components, query_cache
from dashboard.shell.number_format import Shown
from dashboard.shell.page_context import Reading
from dashboard.shell.theme import LIGHT, Look
from dashboard.text import trial_result_sentences as told
from dashboard.text import trial_sentences
from dashboard.text import trials as words_here
from dashboard.text.drill_sentences import Row, count, day, first_up, number_name
from dashboard.trials import harm, report_html
from dashboard.trials.listing import Trial, arm_name, drill_names, shown_of
from warehouse.query.guard import to_csv_safe
from warehouse.trials import reports
from warehouse.trials.reports import Report

WORDS_USED = (
    "interval", "as drawn", "as done", "randomisation test", "smallest change that matters", "verdict", "certainty",
)  # fmt: skip


def answers(trial: Trial, found: Report, names: dict[str, str], shown: Shown) -> list[str]:
    """Say what was found as drawn, group by group, each with its verdict and certainty."""
    return [
        f"{told.found(row, names, shown, trial.plan.better)} {told.verdict(found.verdicts[row['arm']], shown)}"
        for row in found.result.filter(pl.col("analysis") == "as drawn").iter_rows(named=True)
    ]


def read_trial(read: Reading, trial: Trial) -> Report:
    """Read what a finished trial found."""
    return reports.report(store.opened(read.home), query_cache.connection(read.path).cursor(), trial.trial_id)


def show(read: Reading, trial: Trial) -> None:
    """Show a finished trial."""
    names, shown, found = drill_names(read), shown_of(read, trial.plan), read_trial(read, trial)
    drawn = list(found.result.filter(pl.col("analysis") == "as drawn").iter_rows(named=True))
    said = answers(trial, found, names, shown)
    for line in harm.told(trial):
        st.warning(line)
    components.answer(" ".join(said), *WORDS_USED)
    proof = proofs(read, trial, shown)
    st.markdown(" ".join(proof))
    drawn_from = picture(trial, found.result, shown, names, components.look())
    if drawn_from is not None:
        chart = chart_cache.drawn(trial_effect.chart, *drawn_from)
        lines = [*said, *(luck for luck in map(told.luck, drawn) if luck)]
        components.picture(chart, lines, found.result, f"result-{trial.trial_id}", words_here.KEY_EFFECT)
    lines = [told.line(row, names, shown) for row in found.result.iter_rows(named=True)]
    if lines:
        components.told(lines, ("group", "against", "counted"), "result")
    st.subheader(words_here.SECTIONS["flow"])
    if found.flow.height:
        components.told(told.flow_table(flow_rows(found.flow, reasons=False), names), ("step", "what"), "flow")
        given = told.reasons(flow_rows(found.flow))
        if given:
            st.markdown(f"**{words_here.REASONS}** " + "; ".join(given) + ".")
    st.subheader(words_here.SECTIONS["honest"])
    st.markdown(words_here.HONEST if not found.faults else words_here.NOT_HONEST)
    st.caption(told.frozen(found.frozen.through_night, found.frozen.content_hash, found.changed_since))
    if found.faults:
        st.markdown("\n".join(f"- {one}" for one in found.faults))
    downloads(read, trial, found, names, shown)
    st.subheader(words_here.SECTIONS["next_step"])
    st.markdown(words_here.NEXT_STEP)
    for drill_id in trial.plan.treatments:
        if drill_id in dict(read.ask("drills").select("drill_id", "name").iter_rows()):
            components.go("drill", names[drill_id], drill=drill_id)


def picture(trial: Trial, result: pl.DataFrame, shown: Shown, names: dict[str, str], look: Look,
            width: int | None = None) -> tuple[Any, ...] | None:  # fmt: skip
    """Return what the picture of the differences is drawn from (trial_effect.chart); None where there is none."""
    rows = result.filter(pl.col("effect").is_not_null() & pl.col("ci_low").is_not_null())
    if rows.filter(pl.col("analysis") == "as drawn").is_empty():
        return None
    named = [first_up(arm_name(arm, names)) for arm in rows["arm"]]
    labels = [told.short(row, shown) for row in rows.iter_rows(named=True)]
    reference = names.get(trial.plan.treatments[0], trial.plan.treatments[0])
    title = f"{number_name(shown, trial.plan.club_group)}: difference from {reference}"
    frame = rows.with_columns(pl.Series("name", named), pl.Series("label", labels))
    return frame, shown, look, title, width


def proofs(read: Reading, trial: Trial, shown: Shown) -> list[str]:
    """Say what all episodes, drawn and chosen, say of each drill (mart.drill_effect)."""
    plan = trial.plan
    rows = read.ask(
        "drill_comparison", metric=plan.metric, club_group=plan.club_group, measure=plan.measure
    ).filter(pl.col("drill_id").is_in(plan.treatments) & (pl.col("horizon") == plan.horizon))  # fmt: skip
    return [told.evidence(row, shown) for row in rows.iter_rows(named=True)]


def flow_rows(flow: pl.DataFrame, *, reasons: bool = True) -> list[Row]:
    """Return the flow's rows; reasons in a coach's words are only counted where not asked for, or names not seen."""
    rows = list(flow.iter_rows(named=True))
    if reasons and access.current().sees_names:
        return rows
    refused = [row for row in rows if row["step"] == "not drawn"]
    if not refused:
        return rows
    at = rows.index(refused[0])
    whole = refused[0] | {"what": None, "students": sum(row["students"] for row in refused)}
    return [*rows[:at], whole, *rows[at + len(refused) :]]


def downloads(read: Reading, trial: Trial, found: Report, names: dict[str, str], shown: Shown) -> None:
    """Offer the report for print, and the frames as CSV."""
    st.subheader(words_here.SECTIONS["report"])
    st.caption(words_here.REPORT_NOTE)
    name = trial.trial_id
    made = report(read, trial, found, names, shown)
    access.download(
        words_here.REPORT_DOWNLOAD, lambda: report_html.render(made).encode(), f"trial-{name}.html",
        "text/html", home=read.home, key=f"report-{name}",
    )  # fmt: skip
    with st.container(horizontal=True):
        for label, table, kind in (
            (words_here.RESULT_DOWNLOAD, found.result, "result"),
            (words_here.FLOW_DOWNLOAD, pl.DataFrame(flow_rows(found.flow)), "flow"),
            (words_here.ROWS_DOWNLOAD, found.participants, "students"),
        ):
            if table.width:
                access.download(
                    label, to_csv_safe(table), f"trial-{name}-{kind}.csv", "text/csv", home=read.home,
                    key=f"{kind}-{name}",
                )  # fmt: skip


def report(read: Reading, trial: Trial, found: Report, names: dict[str, str], shown: Shown) -> report_html.Report:
    """Return what stands in the report."""
    drawn = list(found.result.filter(pl.col("analysis") == "as drawn").iter_rows(named=True))
    said = answers(trial, found, names, shown)
    said += [luck for luck in map(told.luck, drawn) if luck]
    balance = found.state.balance.iter_rows(named=True)
    drawn_from = picture(trial, found.result, shown, names, LIGHT, 620)
    return report_html.Report(
        title=trial.plan.title,
        when=f"{day(trial.row['begun_on'])} to {day(trial.row['ended_on'])}. "
        f"{count(trial.entered, 'student')} drawn of {trial.plan.students} planned.",
        plan=trial_sentences.planned(trial.plan, names, shown),
        found=said,
        flow=told.flow(flow_rows(found.flow), names),
        balance=[trial_sentences.balance(row, names, shown, trial.plan.treatments[0]) for row in balance],
        evidence=proofs(read, trial, shown),
        harm=[
            *harm.told(trial),
            *(trial_sentences.safety(names.get(d, d), one.sentence) for d, one in found.state.safety.items()),
        ],
        looks=trial_sentences.looks(list(found.looks.iter_rows(named=True)), names),
        honest=found.faults or [words_here.HONEST],
        commitment=trial.row["commitment"],
        chart=trial_effect.chart(*drawn_from) if drawn_from is not None else None,
    )
