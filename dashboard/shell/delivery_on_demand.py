"""A block or a single ball read on demand: the warehouse's function, asked on the published file.

Not here: what a reading says (warehouse/domain/delivery/explain.py).
"""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import polars as pl
import streamlit as st

from dashboard.shell import query_cache
from warehouse.build import reads_deliveries
from warehouse.settings.settings import Settings, SettingsFault, load


def settings_of(folder: Path) -> Settings:
    """Return the home's settings; the defaults where they cannot be read, as for all that pages show."""
    try:
        return load(folder)
    except SettingsFault:
        return Settings()


@st.cache_resource(max_entries=500, show_spinner=False)
def of_block(path: str, folder: str, session_id: str, segment: int, club: str) -> pl.DataFrame:
    """Return the sentences about one block (place, kind, metric, cost, sentence)."""
    settings = settings_of(Path(folder))
    cursor = query_cache.connection(path).cursor()
    return reads_deliveries.read_block(cursor, settings, session_id=session_id, segment=segment, club=club)


@st.cache_resource(max_entries=500, show_spinner=False)
def of_shot(path: str, folder: str, session_id: str, struck_at_local: datetime, export: str, line: int) -> pl.DataFrame:
    """Return the same about one ball of a session."""
    settings = settings_of(Path(folder))
    cursor = query_cache.connection(path).cursor()
    return reads_deliveries.read_shot(
        cursor, settings, session_id=session_id, struck_at_local=struck_at_local, path=export, line=line
    )
