"""The notebook as pages write and read it: opened once, an entry's id kept until it is written, entries of one day.

The only place the dashboard writes. Not here: what an entry must hold (warehouse/notebook/actions.py).
"""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import polars as pl
import streamlit as st
from sqlalchemy import func, select

from dashboard.shell.home_view import Home
from warehouse.home import Home as Place
from warehouse.notebook.store import Store, open_store
from warehouse.notebook.tables import TABLES, frame_schema
from warehouse.settings import settings

TICKETS = "tickets"
WHEN = {"drill_entry": "starts_at", "set_aside": "starts_at", "stop_entry": "at", "observation": "observed_at"}
"""Table of things that happened -> the column that says when, local time."""
EVENING = timedelta(hours=6)
"""How long before now something may have begun that goes on past midnight."""


def url(home: Home) -> str:
    """Return the notebook's SQLAlchemy URL, by the settings or in the home."""
    setting = settings.load(home.folder).notebook.url
    return Place(home.folder.absolute()).notebook_url(setting)


def close(store: Store) -> None:
    """Let go of a notebook that nobody uses any more."""
    store.close()


@st.cache_resource(max_entries=4, show_spinner=False, on_release=close)
def _store(where: str) -> Store:
    return open_store(where)


def opened(home: Home) -> Store:
    """Return the home's notebook, opened once for all sessions; made where there is none.

    Raises
    ------
    NotebookRefused
        It was written by a newer version.
    """
    return _store(url(home))


def exists(home: Home) -> bool:
    """Return whether there is a notebook: one in a database that settings name is taken to be there."""
    where = url(home)
    return not where.startswith("sqlite:///") or Path(where.removeprefix("sqlite:///")).exists()


def now(timezone: str) -> datetime:
    """Return the site's local time, without a zone, whole seconds."""
    return datetime.now(ZoneInfo(timezone)).replace(tzinfo=None, microsecond=0)


def ticket(name: str) -> str:
    """Return the id that the next entry of this name will have; the same until `spend`."""
    return st.session_state.setdefault(TICKETS, {}).setdefault(name, str(uuid.uuid4()))


def spend(name: str) -> None:
    """Give the next entry of this name another id: this one is written."""
    st.session_state.setdefault(TICKETS, {}).pop(name, None)


def on_day(store: Store, table: str, day: date, *, taken_back: bool = False, **where: str) -> pl.DataFrame:
    """Return a day's entries as they stand after corrections, the first first.

    Parameters
    ----------
    table
        A key of WHEN.
    day
        The site's local date.
    taken_back
        Whether those are among them that were taken back.
    **where
        Values that columns must have.
    """
    midnight = datetime(day.year, day.month, day.day)
    return _begun(store, table, midnight, midnight + timedelta(days=1), taken_back, where)


def still_of_use(store: Store, table: str, moment: datetime, **where: str) -> pl.DataFrame:
    """Return what may still go on at a local moment: that day's entries, and those of EVENING before it."""
    midnight = datetime(moment.year, moment.month, moment.day)
    return _begun(store, table, min(midnight, moment - EVENING), midnight + timedelta(days=1), False, where)


def _begun(
    store: Store, table: str, since: datetime, until: datetime, taken_back: bool, where: dict[str, str]
) -> pl.DataFrame:  # fmt: skip
    """Return entries that began between two local moments, as `on_day` does."""
    entries = TABLES[table]
    last = select(func.max(entries.c.number)).group_by(entries.c.first_entry_id)
    when = entries.c[WHEN[table]]
    query = (
        select(entries)
        .where(entries.c.number.in_(last))
        .where(when >= since, when < until)
        .where(*(entries.c[column] == value for column, value in where.items()))
        .order_by(when, entries.c.number)
    )
    if not taken_back:
        query = query.where(~entries.c.withdrawn)
    return _frame(store, table, query)


def of_student(store: Store, table: str, student_id: str) -> pl.DataFrame:
    """Return a student's entries as they stand after corrections, the latest entered first."""
    entries = TABLES[table]
    last = select(func.max(entries.c.number)).group_by(entries.c.first_entry_id)
    query = (
        select(entries)
        .where(entries.c.number.in_(last), ~entries.c.withdrawn, entries.c.student_id == student_id)
        .order_by(entries.c.number.desc())
    )
    return _frame(store, table, query)


def days(store: Store, student_id: str) -> list[date]:
    """Return the local days of a student's entries, taken back or not, the latest first."""
    found: set[date] = set()
    with store.engine.connect().execution_options(reading=True) as connection:
        for table, when in WHEN.items():
            entries = TABLES[table]
            query = select(entries.c[when]).where(entries.c.student_id == student_id)
            found |= {moment.date() for moment in connection.scalars(query)}
    return sorted(found, reverse=True)


def begun(store: Store, student_id: str) -> list[datetime]:
    """Return when drills of a student began by any entry, corrected or taken back ones too."""
    entries = TABLES["drill_entry"]
    with store.engine.connect().execution_options(reading=True) as connection:
        return list(connection.scalars(select(entries.c.starts_at).where(entries.c.student_id == student_id)))


def standing(store: Store, table: str, entry_id: str) -> pl.DataFrame:
    """Return an entry of any day if it is the last of its corrections and not taken back, else no row."""
    entries = TABLES[table]
    last = select(func.max(entries.c.number)).group_by(entries.c.first_entry_id)
    query = select(entries).where(entries.c.number.in_(last), ~entries.c.withdrawn, entries.c.entry_id == entry_id)
    return _frame(store, table, query)


def chain(store: Store, table: str, first_entry_id: str) -> pl.DataFrame:
    """Return an entry with all its corrections, in the order of entry."""
    entries = TABLES[table]
    return _frame(
        store, table, select(entries).where(entries.c.first_entry_id == first_entry_id).order_by(entries.c.number)
    )


def _frame(store: Store, table: str, query: object) -> pl.DataFrame:
    with store.engine.connect().execution_options(reading=True) as connection:
        rows = connection.execute(query).mappings().all()  # type: ignore[call-overload]
    return pl.DataFrame([dict(row) for row in rows], schema=frame_schema(TABLES[table]))
