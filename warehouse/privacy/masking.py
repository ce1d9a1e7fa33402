"""What raw tables hold of outside text, and what of it may be shown: small tables of `stage` that models join.

Raw keeps every text as it came; ops and core tables show it masked. The tables' own ids are masked as they are read
(`reference_rows`, `entered_rows`). Not here: which texts those are (values.py).
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterable
from pathlib import Path

import duckdb
import polars as pl

from warehouse.home import Home
from warehouse.privacy import values
from warehouse.privacy.people import People, people_of
from warehouse.schema.declaration import KEY, WORDS, Table, quoted

KEY_FILE = "masking.key"
SHOWN = {
    "stage.shown_path": "said varchar, shown varchar",
    "stage.shown_message": "said varchar, shown varchar",
    "stage.shown_value": "column_name varchar, said varchar, shown varchar",
}
"""Texts that are shown otherwise than they came; what is not in them is shown as it is."""


def use_key(connection: duckdb.DuckDBPyConnection, folder: Path) -> None:
    """Give a connection the key by which masked ids differ, kept in a private folder; made where there is none."""
    path = folder / KEY_FILE
    if not path.exists():
        made = path.with_name(f".{KEY_FILE}.tmp")
        made.touch(mode=0o600)
        made.write_text(secrets.token_hex(16), encoding="ascii")
        made.replace(path)
    connection.execute(f"set variable masking_key = {quoted(path.read_text(encoding='ascii').strip())}")
    connection.execute(f"set variable masking_home = {quoted(str(folder.parent))}")


def key_of(connection: duckdb.DuckDBPyConnection) -> bytes:
    """Return the connection's key; empty where none was given."""
    (key,) = connection.execute("select getvariable('masking_key')").fetchone() or (None,)
    return str(key or "").encode()


def people_beside(connection: duckdb.DuckDBPyConnection) -> People:
    """Return everybody whom the connection's raw tables name, or the tables of its home's landing folder."""
    (home,) = connection.execute("select getvariable('masking_home')").fetchone() or (None,)
    return people_of(Home(Path(home)) if home else None, connection)


def create_tables(connection: duckdb.DuckDBPyConnection) -> None:
    """Make the tables of what is shown, empty, where they are not there."""
    for name, columns in SHOWN.items():
        connection.execute(f"create table if not exists {name} ({columns})")


def refresh(connection: duckdb.DuckDBPyConnection) -> None:
    """Fill the tables of what is shown from what raw holds now, for everybody whom its tables name.

    Paths in core that were built before somebody's name was known are masked in place.
    """
    create_tables(connection)
    names, key = people_beside(connection).names, key_of(connection)
    bays = frozenset(bay for (bay,) in connection.execute("select bay_id from raw.bay").fetchall())

    def path(said: str) -> str:
        return values.shown_path(said, names, key, bays)

    def message(said: str, about: str) -> str:
        file = about.rsplit("/", 1)[-1]
        hidden = (file, values.stem(file)) if path(about) != about else ()
        return values.shown_message(said, names, key, bays, hidden)

    paths = connection.execute(
        "select path from raw.export_file union select path from raw.rejected_row "
        "union select path from raw.export_decision "
        "union select original_path from raw.export_file where original_path is not null"
    ).fetchall()
    _insert(connection, "stage.shown_path", [(said, path(said)) for (said,) in paths if path(said) != said])
    messages = connection.execute(
        "select reason, path from raw.export_file where reason is not null "
        "union select detail, path from raw.rejected_row where detail is not null "
        "union select place, path from raw.rejected_row where place is not null"
    ).fetchall()
    told = {said: shown for said, about in messages if (shown := message(said, about)) != said}
    _insert(connection, "stage.shown_message", list(told.items()))
    cells = connection.execute("select distinct column_name, value from raw.rejected_row where value <> ''").fetchall()
    shown = [(column, said, values.shown_value(said, column, names)) for column, said in cells]
    _insert(connection, "stage.shown_value", [row for row in shown if row[1] != row[2]])
    if connection.execute("select count(*) from stage.shown_path").fetchone() != (0,):
        connection.execute("update core.shot as s set path = p.shown from stage.shown_path as p where s.path = p.said")


def _insert(connection: duckdb.DuckDBPyConnection, table: str, rows: list[tuple]) -> None:
    connection.execute(f"delete from {table}")
    if rows:
        columns = SHOWN[table].replace(" varchar", "").split(", ")
        connection.register("shown_rows", pl.DataFrame(rows, schema=dict.fromkeys(columns, pl.String), orient="row"))
        connection.execute(f"insert into {table} by name select * from shown_rows")
        connection.unregister("shown_rows")


def reference_rows(rows: Iterable[dict], table: Table, people: People, key: bytes) -> None:
    """Mask names in the outside words and ids of a reference table's rows, in place; persons' own columns stay."""
    keys, words = table.columns_about(KEY), table.columns_about(WORDS)
    keys = tuple(column for column in keys if column not in UNCHANGED)
    lessons = tuple(column for column in ("lesson_id",) if column in table.column_names)
    for row in rows:
        for column in (*keys, *lessons):
            if row[column]:
                row[column] = values.masked_key(row[column], people.names, key)
        for column in words:
            if row[column]:
                row[column] = people.names.mask(row[column])


UNCHANGED = ("bay_id", "site_id", "coach_id", "export_profile")
"""Ids by which files, settings and people are found: they are not masked, the check of consent looks at them."""


def entered_rows(rows: pl.DataFrame, table: Table, people: People, key: bytes) -> pl.DataFrame:
    """Return entries of the notebook with names masked in their words and ids, as `reference_rows` does."""
    keys = [name for name in (*table.columns_about(KEY), "lesson_id") if name in rows.columns and name not in UNCHANGED]

    def by(column: str, shown: Callable[[str], str]) -> pl.Expr:
        return pl.col(column).map_elements(shown, return_dtype=pl.String)

    masked = [by(column, lambda said: values.masked_key(said, people.names, key)) for column in keys]
    masked += [by(column, people.names.mask) for column in table.columns_about(WORDS)]
    return rows.with_columns(masked) if rows.height and people.names else rows
