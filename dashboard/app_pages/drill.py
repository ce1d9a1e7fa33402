"""Coach: for whom does this drill work, and at what price?"""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard.charts import responses, side_effects
from dashboard.sections import carry
from dashboard.shell import chart_cache, components
from dashboard.shell.number_format import Shown
from dashboard.shell.page_context import Reading, current
from dashboard.text import drill_sentences, matrix_sentences, notebook, words
from dashboard.text.drill_sentences import Row, first_up
from dashboard.text.people_sentences import response as response_sentence


def shown_for(read: Reading, row: Row) -> Shown:
    """Return how a row of the drill's effects is shown."""
    return read.shown(row["metric"], row["club_group"], row["measure"])


def warnings(read: Reading, drill_id: str, effects: pl.DataFrame, lost: pl.DataFrame) -> None:
    """Put what to beware of first: stops, wrong way, lost balls."""
    stops = list(read.ask("drill_stops", drill_id=drill_id).iter_rows(named=True))
    aims = effects.filter(pl.col("is_aim"))
    told = drill_sentences.warnings(
        stops, list(aims.iter_rows(named=True)), list(lost.iter_rows(named=True)), lambda row: shown_for(read, row)
    )
    for line in told:
        st.warning(line)


def answer(read: Reading, aims: pl.DataFrame) -> None:
    """Say what the drill does for its aim, same session and next."""
    rows = list(aims.iter_rows(named=True))
    told = [drill_sentences.effect(row, shown_for(read, row)) for row in rows]
    verdicts = [row["verdict"] and drill_sentences.verdict_words(row["verdict"], shown_for(read, row)) for row in rows]
    lines = [f"{line} {first_up(verdict)}." if verdict else line for line, verdict in zip(told, verdicts, strict=True)]
    components.answer(
        "  \n".join(lines), "beyond free practice", "interval", "retention", "verdict", "certainty", "episode"
    )
    row = rows[0]
    why = [
        drill_sentences.free_practice_gave(row, shown_for(read, row)),
        row["verdict_reason"] or "",
        row["certainty_reason"] or "",
        matrix_sentences.helps_not_works(row, shown_for(read, row)),
    ]
    st.markdown(" ".join(first_up(text).rstrip(".") + "." for text in why if text))


def for_whom(read: Reading, drill_id: str, aim: Row) -> None:
    """Draw the students' responses, with luck's beside."""
    components.section(words.SECTIONS["responses"])
    shown = shown_for(read, aim)
    rows = read.ask("drill_responses", drill_id=drill_id, metric=aim["metric"], club_group=aim["club_group"])
    if rows.filter(pl.col("strip") == "drill").is_empty():
        st.markdown(words.EMPTY["responses"])
        return
    components.words_used("luck", "smallest change that matters", "partial pooling")
    st.markdown(drill_sentences.responders(aim))
    own = rows.filter(pl.col("strip") == "drill")
    lines = [response_sentence(row, shown) for row in own.iter_rows(named=True)]
    chart = chart_cache.drawn(responses.chart, rows, shown, components.look(), aim["better"])
    components.picture(chart, lines, own, "responses")


def price(read: Reading, effects: pl.DataFrame, lost: pl.DataFrame, group: str) -> None:
    """Draw the side effects."""
    components.section(words.SECTIONS["side_effects"])
    sided = read.metrics.filter(pl.col("better") == "zero")["metric"].unique().to_list()
    measure = pl.when(pl.col("metric").is_in(sided)).then(pl.lit("distance")).otherwise(pl.lit("centre"))
    rows = effects.filter(
        ~pl.col("is_aim")
        & (pl.col("club_group") == group)
        & (pl.col("horizon") == "transfer")
        & (pl.col("measure") == measure)
        & pl.col("ci_low").is_not_null()
    )
    if rows.height:
        told = list(rows.iter_rows(named=True))
        each = [shown_for(read, row) for row in told]
        frame = pl.DataFrame(
            {
                "label": [
                    first_up(shown.label) + words.MEASURED_BY[row["measure"]]
                    for row, shown in zip(told, each, strict=True)
                ],
                "reads": [drill_sentences.side_effect_reads(row, shown) for row, shown in zip(told, each, strict=True)],
                **{
                    name: [row[column] / shown.matters_from for row, shown in zip(told, each, strict=True)]
                    for name, column in (("times", "effect"), ("times_low", "ci_low"), ("times_high", "ci_high"))
                },
            }
        ).sort(pl.col("times").abs(), descending=True)
        lines = [f"{label}: {reads}" for label, reads in frame.select("label", "reads").iter_rows()]
        components.picture(chart_cache.drawn(side_effects.chart, frame, components.look()), lines, rows, "side-effects")
    for row in lost.iter_rows(named=True):
        st.markdown(drill_sentences.mishits(row))


def behind_it(read: Reading, drill_id: str, aim: Row) -> None:
    """Say what the comparison rests on, and whether groups of students differ."""
    shown = shown_for(read, aim)
    with st.expander(words.SECTIONS["comparison"]):
        for text in (
            drill_sentences.comparator(aim),
            drill_sentences.second_estimator(aim, shown),
            drill_sentences.drawn_only(aim, shown),
        ):
            st.markdown(text)
    groups = read.ask("drill_subgroups", drill_id=drill_id)
    if groups.height:
        with st.expander(words.SECTIONS["subgroups"]):
            st.markdown("\n".join(f"- {drill_sentences.subgroup(row, shown)}" for row in groups.iter_rows(named=True)))


def set_up(drill: Row) -> None:
    """Say the caution first, then how the drill is set up."""
    components.section(words.SECTIONS["setup"])
    components.caution(notebook.caution(drill["caution"]), drill["drill_id"])
    if drill["setup"]:
        st.markdown(drill["setup"])


def club_choice(aims: pl.DataFrame) -> str:
    """Let the reader choose among the club groups with a row for the aim."""
    groups = aims["club_group"].unique(maintain_order=True).to_list()
    names = {group: first_up(words.CLUB_GROUPS[group]) for group in words.CLUB_GROUPS if group in groups}
    default = "any" if "any" in names else None
    return components.choose(words.WHICH_CLUBS, names, "clubs", default) if len(names) > 1 else groups[0]


def page() -> None:
    """Show one drill."""
    read = current()
    components.question("drill")
    drills = read.ask("drills")
    if drills.is_empty():
        st.markdown(words.EMPTY["drills"])
        return
    drill_id = components.choose(words.LABELS["drill"], dict(drills.select("drill_id", "name").iter_rows()), "drill")
    drill = drills.row(by_predicate=pl.col("drill_id") == drill_id, named=True)
    effects = read.ask("drill_effects", drill_id=drill_id)
    lost = read.ask("drill_side_effects", drill_id=drill_id)
    aims = effects.filter(pl.col("is_aim"))
    group = club_choice(aims) if aims.height else drill["club_group"]
    aims = aims.filter(pl.col("club_group") == group)
    warnings(read, drill_id, aims, lost.filter(pl.col("club_group") == group))
    if aims.height:
        answer(read, aims)
    else:
        st.markdown(words.NO_AIM if drill["aim_metric"] is None else words.EMPTY["effect"])
    set_up(drill)
    if aims.height:
        for_whom(read, drill_id, aims.row(0, named=True))
    price(read, effects, lost.filter(pl.col("club_group") == group), group)
    carry.sources(read, "drill", drill_id, drill["name"])
    if aims.height:
        behind_it(read, drill_id, aims.row(0, named=True))
    components.go("students", words.NEXT["student"])
    components.behind(effects, "drill-effects")
    st.caption(f"{words.SMALL_PRINT['drill']} {words.DIRECTION_NUMBERS}")


if __name__ == "__main__":
    page()
