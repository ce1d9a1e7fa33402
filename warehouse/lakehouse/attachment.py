"""The lakehouse: DuckLake with its catalog in PostgreSQL (or a file) and its rows as Parquet on a shared path.

Attached beside a worker's own databases as `lake`. Its extensions come with the installation; nothing is downloaded.
Every step on it is one transaction that replaces whole partitions, so it may be repeated: after a conflict, and when
the catalog's server went away, even in the middle of a commit. Not here: what is kept in it (tables.py).
"""

from __future__ import annotations

import importlib.util
import os
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import duckdb
from sqlalchemy.engine import URL, make_url

from warehouse.home import Home
from warehouse.schema.declaration import quoted
from warehouse.settings.lakehouse import Lakehouse
from warehouse.settings.settings import Settings

NAME = "lake"
REMEDY = "pip install 'drill-evidence[lakehouse]'"
TO_REPEAT = (
    "conflict",
    "server closed the connection",
    "terminating connection",
    "the database system is",
    "unable to connect",
    "connection to server",
    "could not receive data",
    "could not send data",
    "no connection to the server",
    "ssl connection has been closed",
    "could not set lock on file",
    "unique constraint",
    "failed to initialize ducklake",
    "please rollback",
)
"""What is said, in small letters, of a conflict between writers or of a catalog that cannot be reached just now."""
NO_REASON = '":'
"""How a fault ends whose query to the catalog had no answer at all: its server is gone."""
OWN_FAULTS = (duckdb.BinderException, duckdb.ConversionException, duckdb.OutOfMemoryException, duckdb.ParserException)
"""Faults of a step itself, which it would meet each time, unless they tell of a query to the catalog."""
OF_CATALOG = "ducklake: "
"""Stands before what became of DuckLake's own query to its catalog, which it asks while a step is bound too."""
UNKNOWN_REPEATS = 5
"""How often a step is repeated after faults in words that are not known: a catalog can fall silent at any query."""
WAITS = (0.05, 2.0)
"""Shortest and longest pause before a step is repeated, s."""
Result = TypeVar("Result")


class LakehouseUnfit(RuntimeError):
    """The lakehouse cannot be used as installed or set; the message names the remedy."""


def extension(name: str) -> Path:
    """Return the file of a DuckDB extension, as its wheel installed it for exactly this DuckDB.

    Raises
    ------
    LakehouseUnfit
        The wheel is not installed, or is for another version of DuckDB.
    """
    found = importlib.util.find_spec(f"duckdb_extension_{name}")
    if found is None or not found.submodule_search_locations:
        raise LakehouseUnfit(f"[lakehouse] is set, and DuckDB's extension {name} is not installed: {REMEDY}")
    folder = Path(next(iter(found.submodule_search_locations))) / "extensions"
    path = folder / f"v{duckdb.__version__}" / f"{name}.duckdb_extension"
    if not path.exists():
        there = ", ".join(sorted(version.name for version in folder.iterdir())) if folder.is_dir() else "no version"
        raise LakehouseUnfit(
            f"DuckDB is {duckdb.__version__} and its extension {name} is for {there}: {REMEDY} takes two that match"
        )
    return path


def server(url: str, driver: str = "psycopg2") -> URL:
    """Return a PostgreSQL URL for SQLAlchemy."""
    return make_url(url).set(drivername=f"postgresql+{driver}")


def runs_schema(settings: Lakehouse) -> str:
    """Return the schema of this home's runs: homes that share a database do not see each other's."""
    return f"{settings.catalog_schema}_runs"


def runs_url(settings: Lakehouse) -> URL | None:
    """Return where Dagster keeps its runs; None: SQLite in the home."""
    url = settings.runs or (settings.catalog if settings.shared else "")
    return server(url).update_query_dict({"options": f"-c search_path={runs_schema(settings)}"}) if url else None


def catalog(settings: Lakehouse, home: Home) -> str:
    """Return what DuckLake attaches as its catalog; a file's relative path is taken from the home."""
    if not settings.shared:
        return str(home.path / settings.catalog)
    url = make_url(settings.catalog)
    said = {"host": url.host, "port": url.port, "dbname": url.database, "user": url.username, **url.query}
    words = (f"{key}='{value!s}'" for key, value in said.items() if value)
    return "postgres:" + " ".join(words)


def data_path(settings: Lakehouse, home: Home) -> str:
    """Return where the Parquet files lie; a relative folder is taken from the home."""
    return settings.data_path if "://" in settings.data_path else str(home.path / settings.data_path)


def prepare(connection: duckdb.DuckDBPyConnection, settings: Lakehouse) -> None:
    """Load the extensions that the settings need, and give the object store's keys from the environment."""
    names = ["ducklake"] + (["postgres_scanner"] if settings.shared else [])
    remote = "://" in settings.data_path
    for name in names + (["httpfs"] if remote else []):
        connection.execute(f"load {quoted(str(extension(name)))}")
    connection.execute("set ducklake_max_retry_count = 100")
    if remote:
        given = {
            "key_id": "AWS_ACCESS_KEY_ID",
            "secret": "AWS_SECRET_ACCESS_KEY",
            "session_token": "AWS_SESSION_TOKEN",
            "region": "AWS_REGION",
            "endpoint": "LAKE_ENDPOINT",
            "use_ssl": "LAKE_USE_SSL",
            "url_style": "LAKE_URL_STYLE",
        }
        keys = [f"{key} {quoted(os.environ[name])}" for key, name in given.items() if os.environ.get(name)]
        connection.execute(f"create or replace secret lake_store ({', '.join(['type s3', *keys])})")


def attach(connection: duckdb.DuckDBPyConnection, settings: Lakehouse, home: Home, *, read_only: bool = False) -> None:
    """Attach the lakehouse as `lake`; rows always go to files, none into the catalog's own tables."""
    options = ["read_only"] if read_only else []
    options.append(f"data_path {quoted(data_path(settings, home))}")
    options += ["override_data_path true", "data_inlining_row_limit 0"]
    if settings.shared:
        options.append(f"metadata_schema {quoted(settings.catalog_schema)}")
    connection.execute(f"attach {quoted('ducklake:' + catalog(settings, home))} as {NAME} ({', '.join(options)})")


def passes(fault: duckdb.Error) -> bool:
    """Return whether a fault is known as one that passes: a conflict, or a catalog that is away."""
    said = str(fault).lower()
    return said.rstrip().endswith(NO_REASON) or any(words in said for words in TO_REPEAT)


def is_own(fault: duckdb.Error) -> bool:
    """Return whether a fault is a step's own; a catalog that goes away while a step is bound says so as its binder."""
    return isinstance(fault, OWN_FAULTS) and not passes(fault) and OF_CATALOG not in str(fault).lower()


@dataclass
class Lake:
    """The lakehouse attached to a connection, and how long it is waited for."""

    connection: duckdb.DuckDBPyConnection
    home: Home
    settings: Lakehouse
    attached: bool = True
    repeated: int = 0

    @classmethod
    def open(cls, connection: duckdb.DuckDBPyConnection, home: Home, settings: Settings) -> Lake:
        """Attach the lakehouse to a connection that has other databases open."""
        lake = cls.beside(connection, home, settings)
        lake._patiently(lambda: None)
        return lake

    @classmethod
    def beside(cls, connection: duckdb.DuckDBPyConnection, home: Home, settings: Settings) -> Lake:
        """Return a lakehouse that its first step attaches.

        Until then a list of the connection's tables asks no catalog, which may be away just then.
        """
        prepare(connection, settings.lakehouse)
        if "://" not in settings.lakehouse.data_path:
            Path(data_path(settings.lakehouse, home)).mkdir(parents=True, exist_ok=True)
        return cls(connection, home, settings.lakehouse, attached=False)

    def once(self, step: Callable[[], Result]) -> Result:
        """Run a step as one transaction on the lakehouse, again from its beginning where that did not come through.

        Parameters
        ----------
        step
            Leaves the same rows however often it is run; writes to no other database.

        Raises
        ------
        duckdb.Error
            Its own fault, one that came again and again in words that are not known, or a conflict or a catalog
            out of reach for longer than the settings allow.
        """

        def transaction() -> Result:
            self.connection.execute("begin")
            try:
                made = step()
                self.connection.execute("commit")
            except BaseException:
                with suppress(duckdb.Error):
                    self.connection.execute("rollback")
                raise
            return made

        return self._patiently(transaction)

    def read(self, sql: str, given: list[object] | None = None) -> list[tuple]:
        """Return the rows of a select, which may be repeated."""
        return self.once(lambda: self.connection.execute(sql, given or []).fetchall())

    def snapshot(self) -> int:
        """Return the id of the newest snapshot."""
        return int(self.read(f"select id from {NAME}.current_snapshot()")[0][0])

    def _patiently(self, step: Callable[[], Result]) -> Result:
        end, pause, unknown = time.monotonic() + self.settings.patience_seconds, WAITS[0], 0
        while True:
            try:
                self._attach()
                return step()
            except duckdb.Error as fault:
                unknown += not passes(fault)
                if is_own(fault) or unknown > UNKNOWN_REPEATS or time.monotonic() > end:
                    raise
                # A conflict leaves the connections to the catalog as they are; anything else may have broken them.
                self.attached = self.attached and "conflict" in str(fault).lower()
                self.repeated += 1
                time.sleep(pause)
                pause = min(pause * 2, WAITS[1])

    def _attach(self) -> None:
        if self.attached:
            return
        for name in (NAME, f"__ducklake_metadata_{NAME}"):
            with suppress(duckdb.Error):
                self.connection.execute(f"detach database if exists {name}")
        attach(self.connection, self.settings, self.home)
        self.attached = True
