"""Runs the models: nights that are new or whose inputs changed, then the tables that are made whole.

Not here: what a table holds (models), whether it is fit to publish (checks.py), which files came (landing).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

import duckdb
import polars as pl

from warehouse.build import randomised_drills
from warehouse.build.fingerprints import NO_FILE, UNAUDITED
from warehouse.build.model import Model, code_behind, code_hash, models
from warehouse.build.shared_frames import Frames
from warehouse.privacy import masking
from warehouse.schema.declaration import quoted
from warehouse.schema.metrics import CLUBS, METRICS
from warehouse.schema.registry import TABLES
from warehouse.settings.clock import nights_read, today
from warehouse.settings.settings import Settings

SHOTS_AT_ONCE = 400_000
"""Shots of one batch of nights: bounds memory, and what a killed rebuild has to do again."""

HISTORY = "ops.publication"
MADE_FROM = {
    "core.first_block": "night >= $1",
    "core.episode_metric": "episode_id not in (select episode_id from core.drill_episode where night < $1)",
    "mart.student_week": "week >= $1",
}
"""Whole tables that can be made from a Monday on, what is older carried over: variable made_from, null for all of it;
and which rows that replaces."""
Progress = Callable[[str, int, int], None]


def silent(_what: str, _done: int, _of: int) -> None:
    """Say nothing."""


def prepare(connection: duckdb.DuckDBPyConnection, settings: Settings) -> list[str]:
    """Make what models need beside raw tables: what settings and declarations give, and the declared tables.

    Returns
    -------
    list of str
        Tables that another version of the program had made: made again as declared, or dropped where none is declared.
    """
    give(connection, settings)
    # One transaction: hundreds of comments are else hundreds of commits.
    connection.execute("begin")
    try:
        others = drop_undeclared(connection)
        others += [table.name for table in TABLES.values() if make_table(connection, table.name)]
        connection.execute("commit")
    except BaseException:
        connection.execute("rollback")
        raise
    return others


def give(connection: duckdb.DuckDBPyConnection, settings: Settings) -> None:
    """Make what settings and declarations give models: variables, clubs, metrics, bay clocks, drills by lot."""
    connection.execute(f"set memory_limit = '{settings.limits.database_gigabytes}GB'")
    episodes = settings.episodes
    for name, value in episodes.model_dump().items():
        connection.execute(f"set variable {name} = {value}")
    read = nights_read(settings)
    for name, day in (("today", today(settings)), ("first_night", read.first), ("last_night", read.last)):
        connection.execute(f"set variable {name} = date '{day}'")
    connection.execute(f"set variable metrics = {[metric.name for metric in METRICS]}")
    connection.execute(f"set variable mirrored_metrics = {[m.name for m in METRICS if m.mirrored and not m.derived]}")
    given = {
        "club": pl.DataFrame({"club": list(CLUBS), "club_group": list(CLUBS.values())}),
        "metric_name": pl.DataFrame({"metric": [metric.name for metric in METRICS]}),
        "bay_setting": pl.DataFrame(
            [(bay_id, bay.clock_ahead_seconds) for bay_id, bay in settings.bays.items()],
            schema={"bay_id": pl.String, "ahead_seconds": pl.Float64},
            orient="row",
        ),
    }
    for name, frame in given.items():
        connection.register("given", frame)
        connection.execute(f"create or replace table stage.{name} as select * from given")
        connection.unregister("given")
    # Views: reference tables and entries may be read after this.
    connection.execute(
        "create or replace view stage.bay_clock as select bay_id, coalesce(ahead_seconds, 0) as ahead_seconds "
        "from raw.bay left join stage.bay_setting using (bay_id)"
    )
    randomised_drills.make_view(connection)
    masking.create_tables(connection)


def drop_undeclared(connection: duckdb.DuckDBPyConnection) -> list[str]:
    """Drop published tables that no declaration knows: nothing renews them, and readers would take them for good."""
    there = connection.execute(
        "select schema_name || '.' || table_name from duckdb_tables() "
        "where database_name = current_database() and schema_name in ('core', 'mart', 'ops') order by all"
    ).fetchall()
    unknown = [name for (name,) in there if name not in TABLES]
    for name in unknown:
        schema, table = name.split(".", 1)
        connection.execute(f'drop table {schema}."{table}"')
    return unknown


def make_table(connection: duckdb.DuckDBPyConnection, name: str) -> bool:
    """Create a declared table with its comments, or again, and return True, where it has other columns than declared.

    The book of publications, which nothing else tells of, keeps its rows in the columns that both have.
    """
    table = TABLES[name]
    held = connection.execute(
        "select column_name, data_type, comment from duckdb_columns() "
        "where database_name = current_database() and schema_name || '.' || table_name = ? order by column_index",
        [name],
    ).fetchall()
    as_declared = [row[:2] for row in held] == table.types
    of_table, *of_columns = table.comments()
    if as_declared and all(
        said.endswith(f" is {quoted(row[2] or '')}") for said, row in zip(of_columns, held, strict=True)
    ):
        return False
    made_again = bool(held) and not as_declared
    if not as_declared:
        kept = connection.execute(f"from {name}").pl() if made_again and name == HISTORY else None
        connection.execute(f"drop table if exists {name}")
        connection.execute(table.ddl())
        if kept is not None:
            keep_history(connection, kept)
    for comment in (of_table, *of_columns):
        connection.execute(comment)
    if table.night is not None and made_again:
        connection.execute("delete from ops.night")
    return made_again


def keep_history(connection: duckdb.DuckDBPyConnection, publications: pl.DataFrame) -> None:
    """Put publications that another version noted into their table, in the columns that it still has."""
    known = [column.name for column in TABLES[HISTORY].columns if column.name in publications.columns]
    connection.register("publications", publications)
    connection.execute(f"insert into {HISTORY} by name select {', '.join(known)} from publications")
    connection.unregister("publications")


def run_model(
    connection: duckdb.DuckDBPyConnection,
    model: Model,
    settings: Settings,
    frames: Frames | None = None,
    made_from: date | None = None,
) -> int:
    """Make one model's rows in its table and return their count; by-night tables replace the nights of stage.night."""
    connection.execute("set variable made_from = ?::date", [made_from])
    if model.path.suffix == ".sql":
        source = f"({model.select()})"
    else:
        reads, rows = model.module()
        read = frames.read if frames else lambda opened, select: opened.execute(select).pl()
        given = {name: read(connection, select) for name, select in reads.items()}
        connection.register("made_rows", rows(given, settings))
        source = "made_rows"
    if model.stage:
        connection.execute(f"create or replace table {model.name} as select * from {source}")
    else:
        if made_from is not None:
            connection.execute(f"delete from {model.name} where {MADE_FROM[model.name]}", [made_from])
        else:
            nights = " where night in (select night from stage.night)" if model.by_night else ""
            connection.execute(f"delete from {model.name}{nights}")
        connection.execute(f"insert into {model.name} by name select * from {source}")
    counted = connection.execute(f"select count(*) from {model.name}").fetchone()
    if source == "made_rows":
        connection.unregister("made_rows")
    return counted[0]


def batches(connection: duckdb.DuckDBPyConnection, nights: list[date]) -> Iterator[list[date]]:
    """Split nights, in order, into batches of at most SHOTS_AT_ONCE raw shots (one night at least)."""
    shots = dict(connection.execute("select night, count(*) from raw.shot group by night").fetchall())
    batch: list[date] = []
    held = 0
    for night in sorted(nights):
        if batch and held + shots.get(night, 0) > SHOTS_AT_ONCE:
            yield batch
            batch, held = [], 0
        batch.append(night)
        held += shots.get(night, 0)
    if batch:
        yield batch


def build_nights(
    connection: duckdb.DuckDBPyConnection,
    nights: dict[date, str],
    settings: Settings,
    progress: Progress = silent,
) -> None:
    """Build the by-night tables for these nights, a batch a transaction.

    Parameters
    ----------
    nights
        Night -> fingerprint of its inputs, kept in ops.night so that an unchanged night is not built again; marked
        as not yet audited until `nights.audited` is called.
    """
    steps = [model for model in models().values() if model.by_night]
    done = 0
    masking.refresh(connection)
    for batch in batches(connection, list(nights)):
        progress("building nights", done, len(nights))
        connection.execute("create or replace table stage.night (night date)")
        connection.executemany("insert into stage.night values (?)", [[night] for night in batch])
        for model in steps:
            if model.stage:
                run_model(connection, model, settings)
        connection.execute("begin")
        try:
            for model in steps:
                if not model.stage:
                    run_model(connection, model, settings)
            connection.execute("delete from ops.night where night in (select night from stage.night)")
            connection.executemany(
                "insert into ops.night select ?, ?, count(*) from core.shot where night = ?",
                [[night, UNAUDITED + nights[night], night] for night in batch],
            )
            connection.execute("delete from ops.night where fingerprint = ?", [UNAUDITED + NO_FILE])
            connection.execute("commit")
        except BaseException:
            connection.execute("rollback")
            raise
        done += len(batch)
    progress("building nights", done, len(nights))
    # What the checks look at: these nights, and any that an earlier run built and did not see through its audit.
    connection.execute(
        "create or replace table stage.night as "
        f"select night from ops.night where starts_with(fingerprint, '{UNAUDITED}')"
    )


def build_table(
    connection: duckdb.DuckDBPyConnection,
    name: str,
    settings: Settings,
    frames: Frames | None = None,
    made_from: date | None = None,
) -> int:
    """Make one whole table anew and return its rows; one that reads no table only when its code or settings changed.

    `frames` is shared by all tables of one run, so that what several read is read once. `made_from` is for those of
    MADE_FROM.
    """
    model = models()[name]
    if model.reads & masking.SHOWN.keys():
        masking.refresh(connection)
    made_by = f"{code_hash(code_behind(model.path))} {settings.model_dump_json()}" if not model.reads else None
    connection.execute("create table if not exists raw.made_table (table_name varchar, made_by varchar)")
    if made_by is not None:
        rows = connection.execute(
            f"select count(*) from {name} where exists (from raw.made_table where table_name = $1 and made_by = $2)",
            [name, made_by],
        ).fetchone()[0]
        if rows:
            return rows
    connection.execute("begin")
    try:
        rows = run_model(connection, model, settings, frames, made_from)
        connection.execute("commit")
    except BaseException:
        connection.execute("rollback")
        raise
    if made_by is not None:
        connection.execute("delete from raw.made_table where table_name = ?", [name])
        connection.execute("insert into raw.made_table values (?, ?)", [name, made_by])
    return rows
