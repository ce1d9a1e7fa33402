"""A copy without names of a version that an older program published, which made none: until the next publication.

Also left out are goals in students' own words, which may name people. Not here: who gets it (access.py).
"""

from __future__ import annotations

import atexit
import shutil
import tempfile
from pathlib import Path

import duckdb
import streamlit as st

WITHHELD = {"mart.student": "name", "mart.goal": "words"}
"""Table -> the column of text that names people or may."""


def remove(path: str) -> None:
    """Remove a copy and its folder."""
    shutil.rmtree(Path(path).parent, ignore_errors=True)


@st.cache_resource(max_entries=2, show_spinner="Leaving names out …", on_release=remove)
def copy(published: str) -> str:
    """Return the path of a copy of a published version without names; made once a version, for all sessions.

    Parameters
    ----------
    published
        The resolved path of the version.
    """
    folder = Path(tempfile.mkdtemp(prefix="without-names-"))  # only this process's user may look into it
    path = str(folder / Path(published).name)
    atexit.register(remove, path)
    shutil.copyfile(published, path)
    with duckdb.connect(path) as connection:
        for table, column in WITHHELD.items():
            # Made anew, not updated: the column's statistics would still hold names.
            connection.execute(
                f"create or replace table {table} as select * replace (null::varchar as {column}) from {table}"
            )
    return path
