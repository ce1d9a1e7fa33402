"""Refused cells and paths as they came, kept in the private folder for the front office, who set them right.

Made with each publication, of what it shows masked. Not here: the pages (dashboard/app_pages/bays.py).
"""

from __future__ import annotations

import os

import duckdb
import polars as pl

from warehouse.home import Home

WITHHELD_ROWS = """
select
    coalesce(path.shown, rejected.path) as path,
    rejected.line,
    rejected.path as path_as_it_is,
    rejected.value,
    rejected.detail
from raw.rejected_row as rejected
left join stage.shown_path as path on rejected.path = path.said
left join stage.shown_message as message on rejected.detail = message.said
left join stage.shown_value as cell
    on rejected.column_name is not distinct from cell.column_name and rejected.value = cell.said
where path.said is not null or message.said is not null or cell.said is not null
"""
WITHHELD_FILES = """
select
    path.shown as path,
    null::bigint as line,
    files.path as path_as_it_is,
    null::varchar as value,
    files.reason as detail
from raw.export_file as files
join stage.shown_path as path on files.path = path.said
where files.latest
"""
COLUMNS = {"path": pl.String, "line": pl.Int64, "path_as_it_is": pl.String, "value": pl.String, "detail": pl.String}
FILE = "withheld.parquet"


def keep(connection: duckdb.DuckDBPyConnection, home: Home) -> None:
    """Keep what a publication shows masked, its owner's alone, in the place of what the one before did."""
    rows = connection.execute(f"{WITHHELD_ROWS} union all {WITHHELD_FILES} order by all").pl()
    incoming = home.private / f"{FILE}.tmp"
    incoming.unlink(missing_ok=True)
    incoming.touch(mode=0o600)
    rows.cast(COLUMNS).write_parquet(incoming)
    os.replace(incoming, home.private / FILE)


def read(home: Home) -> pl.DataFrame:
    """Return what is masked as it came; without a line: a file's path, and why it was refused."""
    path = home.private / FILE
    return pl.read_parquet(path) if path.exists() else pl.DataFrame(schema=COLUMNS)
