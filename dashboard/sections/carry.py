"""Parts of pages about carry: a cohort's season, where carry came from, a delivery read aloud.

Not here: the sentences (carry_sentences.py) and fixed words (words_carry.py).
"""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard.charts import carry_sources, cohort_carry
from dashboard.shell import chart_cache, components
from dashboard.shell import delivery_on_demand as on_demand
from dashboard.shell.page_context import Reading
from dashboard.text import carry as words_carry
from dashboard.text import carry_sentences, words
from dashboard.text.drill_sentences import Row

LEAST_STRETCHES = 2
ENOUGH_MONTHS = 3
FREE_PRACTICE = "free practice"


def season(read: Reading, cohort: str, club_group: str) -> None:
    """Draw a cohort's carry by month or week, as measured and on standard air; the driver's where a club has none."""
    components.section(words_carry.SEASON)
    for group in (club_group, "driver"):
        found = {
            period: read.ask("cohort_carry", cohort=cohort, club_group=group, period=period)
            for period in words_carry.PERIODS
        }
        if found["week"].height:
            break
    told = {period: rows for period, rows in found.items() if rows.height >= LEAST_STRETCHES}
    if not told:
        st.markdown(words_carry.SEASON_EMPTY)
        return
    usual = "month" if found["month"].height >= ENOUGH_MONTHS else "week"
    names = {period: words_carry.PERIODS[period] for period in told}
    period = (
        components.choose(words_carry.PERIOD_LABEL, names, "period", usual) if len(names) > 1 else next(iter(names))
    )
    rows, shown = told[period], read.shown("carry", group)
    st.markdown(carry_sentences.season(cohort, group, rows.row(0, named=True), rows.row(-1, named=True), shown, period))
    lines = [carry_sentences.period_line(row, shown, period) for row in rows.iter_rows(named=True)]
    drawn = chart_cache.drawn(cohort_carry.chart, rows, shown, components.look(), period)
    components.picture(drawn, lines, rows, "cohort-carry", cohort_carry.KEY)
    st.caption(words_carry.SEASON_NOTE)
    st.caption(words_carry.MODEL_NOTE)


def sources(read: Reading, grouped_by: str, group_id: str, name: str) -> None:
    """Draw where the carry of a drill's or a cohort's episodes came from, free practice beside it in words."""
    components.section(words_carry.SOURCES_OF_DRILL if grouped_by == "drill" else words_carry.SOURCES_OF_COHORT)
    rows = read.ask("carry_source_summary", grouped_by=grouped_by, group_id=group_id)
    if rows.is_empty():
        st.markdown(words_carry.SOURCES_EMPTY)
        return
    beside = read.ask("carry_source_summary", grouped_by=FREE_PRACTICE, group_id=FREE_PRACTICE)
    for row in rows.iter_rows(named=True):
        shown = read.shown("carry", row["club_group"])
        lines = [carry_sentences.sources(row, shown, name)]
        same = beside.filter(pl.col("club_group") == row["club_group"])
        lines += [carry_sentences.sources(other, shown, FREE_PRACTICE) for other in same.iter_rows(named=True)]
        told = [carry_sentences.speed_or_delivery(row, shown, name)]
        told += [carry_sentences.speed_or_delivery(one, shown, FREE_PRACTICE) for one in same.iter_rows(named=True)]
        st.markdown("  \n".join(told))
        table = pl.concat([rows.filter(pl.col("club_group") == row["club_group"]), same])
        drawn = chart_cache.drawn(carry_sources.chart, row, shown, components.look())
        components.picture(drawn, lines, table, f"carry-sources-{row['club_group']}")
    st.caption(words_carry.AS_IT_LOOKS)
    if grouped_by == "drill":
        st.caption(words_carry.MODEL_NOTE)


def delivery(read: Reading, student: str, club_group: str) -> None:
    """Read the latest session, a block or a single ball: what costs carry or direction, dearest first."""
    latest = read.ask("student_reading", student_id=student, club_group=club_group)
    blocks = read.ask("student_blocks", student_id=student, club_group=club_group)
    if latest.is_empty() and blocks.is_empty():
        return
    components.section(words.SECTIONS["reading"])
    row = chosen_block(blocks, with_latest=not latest.is_empty())
    told = latest if row is None else chosen_ball(read, row)
    if told.is_empty():
        st.markdown(words_carry.NOTHING_COSTS)
    else:
        lines = told.select("place", "sentence").iter_rows()
        st.markdown("\n".join(f"{place}. {sentence}" for place, sentence in lines))
        components.behind(told, "delivery-reading")
    st.caption(words_carry.READING_NOTE)


def chosen_block(blocks: pl.DataFrame, *, with_latest: bool) -> Row | None:
    """Let the coach choose a block of free balls; None for the latest session as a whole."""
    rows = {f"{row['session_id']}~{row['segment']}~{row['club']}": row for row in blocks.iter_rows(named=True)}
    names = {"latest": words_carry.LATEST} if with_latest else {}
    names |= {key: carry_sentences.block(row) for key, row in rows.items()}
    return rows.get(components.choose(words_carry.READ_WHAT, names, "balls"))


def chosen_ball(read: Reading, row: Row) -> pl.DataFrame:
    """Let the coach choose a single ball of the session, or the whole block; return what is read of it."""
    balls = read.ask("block_shots", session_id=row["session_id"], club=row["club"])
    speed, carry = read.shown("ball_speed", "driver"), read.shown("carry", "driver")
    shots = {f"{ball['path']}~{ball['line']}": ball for ball in balls.iter_rows(named=True)}
    names = {"block": words_carry.WHOLE_BLOCK} | {
        key: carry_sentences.shot(number, ball, speed, carry) for number, (key, ball) in enumerate(shots.items(), 1)
    }
    ball = shots.get(components.choose(words_carry.READ_SHOT, names, "ball"))
    place = (read.path, str(read.home.folder), row["session_id"])
    if ball is None:
        return on_demand.of_block(*place, row["segment"], row["club"])
    return on_demand.of_shot(*place, ball["struck_at_local"], ball["path"], ball["line"])
