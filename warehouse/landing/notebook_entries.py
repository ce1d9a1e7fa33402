"""Brings in what people entered in the notebook, read-only; without a notebook the tables are empty."""

from __future__ import annotations

import duckdb

from warehouse.notebook.reading import read_entries, read_history
from warehouse.privacy import masking
from warehouse.schema import entered
from warehouse.trials.drawn import drawn_lots
from warehouse.trials.free_balls import free_starts

LOTS, STARTS = "drawn lots", "free starts"
ENTRY_TABLE = {
    "raw.set_aside": "set_aside",
    "raw.entered_drill": "drill_entry",
    "raw.stop": "stop_entry",
    "raw.goal": "goal",
    "raw.entered_observation": "observation",
    "raw.drawn_lot": LOTS,
    "raw.free_start": STARTS,
}
"""Raw table -> the notebook's table, or what is made of several."""


def load(con: duckdb.DuckDBPyConnection, url: str) -> dict[str, int]:
    """Replace the entered tables by the notebook's entries as they stand; return rows by table."""
    entries = read_entries(url)
    entries |= {LOTS: drawn_lots(entries, read_history(url, "trial_agreement")), STARTS: free_starts(entries)}
    counts, people = {}, masking.people_beside(con)
    for table in entered.TABLES:
        columns = ", ".join(f'"{column.name}"' for column in table.columns)
        rows = masking.entered_rows(entries[ENTRY_TABLE[table.name]], table, people, masking.key_of(con))
        con.execute(table.ddl().replace("create table if not exists", "create or replace table"))
        con.register("entered_rows", rows)
        con.execute(f"insert into {table.name} select {columns} from entered_rows")
        con.unregister("entered_rows")
        counts[table.name] = rows.height
    return counts
