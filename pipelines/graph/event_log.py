"""Dagster's event log in SQLite, its files kept open through a run. Not here: what is in it.

Dagster's own opens its files anew for each of a night's several hundred events, which takes longer than the writing.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import sqlalchemy
from dagster import EventLogEntry
from dagster._core.storage.event_log import SqliteEventLogStorage
from dagster._core.storage.event_log.sqlite.sqlite_event_log import INDEX_SHARD_NAME, SQLITE_BUSY_TIMEOUT_SECONDS
from dagster._serdes import deserialize_value, serialize_value
from sqlalchemy.pool import StaticPool

from warehouse.home import Home
from warehouse.privacy import messages
from warehouse.privacy.people import people_of

PLACE = ("history", "runs")
"""Where under its home Dagster keeps these files unless told otherwise."""


def without_names(home: Home, event: EventLogEntry) -> EventLogEntry:
    """Return an event in whose texts no name stands; most hold none and are returned as they are."""
    said = serialize_value(event)
    if not people_of(home).names.holds(said):
        return event
    return deserialize_value(json.dumps(messages.shown(home, json.loads(said))), EventLogEntry)


class OpenEventLog(SqliteEventLogStorage):
    """The event log of an instance; the index and the file of the run at work stay open."""

    def __init__(self, base_dir: str, inst_data: Any = None) -> None:
        self._engines: dict[str, sqlalchemy.Engine] = {}
        self._home = Home(Path(base_dir).absolute().parents[1])
        super().__init__(os.path.join(base_dir, *PLACE), inst_data)

    @classmethod
    def from_config_value(cls, inst_data: Any, config_value: Any) -> OpenEventLog:
        """Make it from dagster.yaml: `base_dir` is Dagster's home."""
        return cls(inst_data=inst_data, **config_value)

    @contextmanager
    def _connect(self, shard: str) -> Iterator[sqlalchemy.Connection]:
        with self._db_lock, self._engine(shard).connect() as opened, opened.begin():
            yield opened

    def _engine(self, shard: str) -> sqlalchemy.Engine:
        if shard in self._engines:
            return self._engines[shard]
        if shard != INDEX_SHARD_NAME:
            for other in self._engines.keys() - {INDEX_SHARD_NAME}:
                self._engines.pop(other).dispose()
        engine = sqlalchemy.create_engine(
            self.conn_string_for_shard(shard),
            poolclass=StaticPool,
            connect_args={"timeout": SQLITE_BUSY_TIMEOUT_SECONDS, "check_same_thread": False},
        )
        if shard not in self._initialized_dbs:
            self._initdb(engine)
            self._initialized_dbs.add(shard)
        self._engines[shard] = engine
        return engine

    def store_event(self, event: EventLogEntry) -> None:
        """Store an event; names in what it says are withheld."""
        super().store_event(without_names(self._home, event))

    def dispose(self) -> None:
        """Close the files."""
        for shard in list(self._engines):
            self._engines.pop(shard).dispose()
        super().dispose()
