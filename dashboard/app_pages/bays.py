"""Front office: did every bay report, and is it comparable?"""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboard.charts import bay_grid, bay_history, bay_offsets
from dashboard.shell import access, chart_cache, components, outside_text
from dashboard.shell.page_context import Reading, current
from dashboard.text import night_sentences, words
from dashboard.text.drill_sentences import day, first_up
from dashboard.text.notebook_sentences import plain
from warehouse.home import Home
from warehouse.privacy import withheld
from warehouse.privacy.values import WITHHELD

NIGHTS = 10


def files(read: Reading, night: str) -> None:
    """List the night's files, and each refused row with its remedy."""
    components.section(words.SECTIONS["files"])
    rows = as_they_came(read, read.ask("bay_files", night=night).with_columns(line=pl.lit(None, pl.Int64)), "reason")
    if rows.is_empty():
        st.markdown(words.EMPTY["files"])
    else:
        other = rows.filter(pl.col("status") != "loaded").iter_rows(named=True)
        st.markdown("\n".join(f"- {plain(night_sentences.not_loaded(row))}" for row in other))
        columns = {
            "bay_id": ("bay", "text"),
            "status": ("status", "text"),
            "rows_read": ("rows read", 0),
            "rows_loaded": ("loaded", 0),
            "rows_rejected": ("refused", 0),
            "rows_duplicate": ("duplicates", 0),
            "path": ("file under landing/shots", "text"),
        }
        components.listing(rows, columns, "files")
    components.section(words.SECTIONS["rejected"])
    refused = read.ask("rejected_rows", night=night)
    if refused.is_empty():
        st.markdown(words.EMPTY["rejected"])
        return
    columns = {
        "path": ("file", "text"),
        "line": ("line", 0),
        "column_name": ("column", "text"),
        "value": ("value", "text"),
        "reason": ("why", "text"),
        "detail": ("remedy", "text"),
    }
    shown = as_they_came(read, refused, "detail")
    if access.current().sees_refused_cells:
        st.caption(words.AS_THEY_CAME)
    elif refused["value"].is_in([WITHHELD]).any():
        st.caption(words.WITHHELD_CELLS)
    components.listing(shown, columns, "refused")
    components.behind(refused, "rejected-rows")


def as_they_came(read: Reading, rows: pl.DataFrame, said: str) -> pl.DataFrame:
    """Return files or refused rows with the paths, cells and words (`said`) that only the front office sees as told."""
    if not access.current().sees_refused_cells:
        return rows
    kept = outside_text.neutralise_frame(withheld.read(Home(read.home.folder))).rename({"detail": "said_kept"})
    joined = rows.join(kept, on=["path", "line"], how="left", suffix="_kept", nulls_equal=True)
    joined = joined.with_columns(
        pl.coalesce("path_as_it_is", "path").alias("path"), pl.coalesce("said_kept", said).alias(said)
    )
    if "value" in rows.columns:
        joined = joined.with_columns(pl.coalesce("value_kept", "value").alias("value"))
    return joined.select(rows.columns)


def offsets(read: Reading, bays: dict[str, str]) -> None:
    """Draw what each bay adds to a number, and one bay's history."""
    components.section(words.SECTIONS["offsets"])
    known = read.metrics.select("metric", "label").unique().sort("label").iter_rows()
    metric = components.choose(
        words.LABELS["number"], {name: first_up(label) for name, label in known}, "metric", "attack_angle"
    )
    rows = read.ask("bay_offsets", metric=metric)
    shown = read.shown(metric, "any")
    told = rows.drop_nulls(["bay_offset", "ci_low"])
    if told.is_empty():
        st.markdown(words.EMPTY["offsets"])
    else:
        drifting = rows.filter("drifting")["bay_id"].to_list()
        components.answer(night_sentences.drifting(drifting, shown), "bay offset", "drift", "interval")
        st.markdown(night_sentences.offsets(list(told.iter_rows(named=True)), list(bays), shown))
        lines = [night_sentences.offset(row, shown) for row in rows.iter_rows(named=True)]
        components.picture(
            chart_cache.drawn(bay_offsets.chart, rows, shown, components.look()), lines, rows, "bay-offsets"
        )
        bay = components.choose(words.LABELS["bay"], bays, "bay", drifting[0] if drifting else None)
        weeks = read.ask("bay_weeks", bay_id=bay, metric=metric)
        if weeks.height:
            lines = [night_sentences.bay_week(row, shown) for row in weeks.iter_rows(named=True)]
            components.picture(
                chart_cache.drawn(bay_history.chart, weeks, shown, components.look()), lines, weeks, "bay-weeks"
            )


def clocks(read: Reading) -> None:
    """Say which bay clocks are out of step."""
    rows = read.ask("bay_clocks")
    if rows.is_empty():
        return
    components.section(words.SECTIONS["clocks"])
    out = [night_sentences.clock(row) for row in rows.filter("out_of_step").iter_rows(named=True)]
    st.markdown("\n".join(f"- {line}" for line in out) if out else words.CLOCKS_FINE)
    components.behind(rows, "bay-clocks")


def runs(read: Reading) -> None:
    """Show the last publications and what the checks found."""
    components.section(words.SECTIONS["runs"])
    columns = {
        "published_at": ("published (UTC)", "text"),
        "through_night": ("through", "date"),
        "nights": ("nights", 0),
        "shots": ("shots", 0),
        "nights_built": ("nights built", 0),
        "warned": ("warnings", 0),
    }
    lines = pl.col("warnings").str.split("\n").list.eval(pl.element().filter(pl.element() != "")).list.len()
    rows = read.ask("publications").with_columns(
        pl.col("published_at").dt.strftime("%Y-%m-%d %H:%M"), lines.alias("warned")
    )
    components.listing(rows, columns, "publications")
    if read.home.last_run.get("warnings"):
        st.markdown(words.RUN_WARNED)
        st.markdown("\n".join(f"- {warning}" for warning in read.home.last_run["warnings"]))
    found = read.ask("check_results")
    if found.height:
        components.behind(found, "check-results", words.SECTIONS["checks"])


def page() -> None:
    """Show the bays and their files."""
    read = current()
    components.question("bays")
    bays = read.ask("bays")
    nights = read.ask("bay_nights", nights=NIGHTS)
    if nights.is_empty():
        st.markdown(words.EMPTY["bays"])
        runs(read)
        return
    days = nights["night"].unique().sort(descending=True).to_list()
    night = components.choose(words.LABELS["night"], {str(when): day(when) for when in days}, "night")
    own = nights.filter(pl.col("night").cast(pl.String) == night)
    components.answer(night_sentences.bays(list(own.iter_rows(named=True))))
    lines = [night_sentences.bay_night(row) for row in own.iter_rows(named=True)]
    components.picture(
        chart_cache.drawn(bay_grid.chart, nights, components.look()), lines, nights, "bay-nights", bay_grid.KEY
    )
    files(read, night)
    sites = dict(bays.select("bay_id", "site_name").iter_rows())
    offsets(read, {bay: f"{bay} ({sites[bay]})" if bay in sites else bay for bay in nights["bay_id"].unique().sort()})
    clocks(read)
    runs(read)


if __name__ == "__main__":
    page()
