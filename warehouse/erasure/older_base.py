"""The private database whose copy is published without names, written anew where an older program left names in it.

A database keeps the bytes of what was deleted: a copy of one that ever held a name would give it away. Not here: the
copies (warehouse/publishing).
"""

from __future__ import annotations

import duckdb

from warehouse.erasure.rows import columns_declared, rewritten, text_columns
from warehouse.home import Home
from warehouse.privacy.named_file import PUT
from warehouse.schema.declaration import NAME

MARK = "names_left_out"
"""A file of the private folder: the database beside it was begun or written anew by a program that leaves names out."""


def leave_names_out(home: Home) -> bool:
    """Write a private database of an older program anew without names; return whether that was done."""
    mark, database = home.private / MARK, home.private / "warehouse.duckdb"
    if mark.exists():
        return False
    held = database.exists()
    if held:
        rewritten(database, _empty)
    mark.touch(mode=0o600)
    return held


def _empty(connection: duckdb.DuckDBPyConnection) -> None:
    withheld = {(table, column) for table, (column, _) in PUT.items()}
    names = columns_declared(NAME)
    for table, columns in text_columns(connection).items():
        plain = table.replace('"', "")
        for column in columns:
            if (plain, column) in withheld or ("student_id" in columns and column in names):
                connection.execute(f"update {table} set {column} = null where {column} is not null")
