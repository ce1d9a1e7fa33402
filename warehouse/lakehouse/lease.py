"""Who may work on what when several workers share a lakehouse: one a site, one commit at a time, one publication.

A lease is a PostgreSQL advisory lock (with a catalog file: a lock on a file), so it goes with the process that holds
it, however that ends. It only spares work: two commits at once conflict in the lakehouse itself, and one is repeated.
"""

from __future__ import annotations

import fcntl
import hashlib
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field

from sqlalchemy import Connection, create_engine, text
from sqlalchemy.exc import DBAPIError
from sqlalchemy.pool import NullPool

from warehouse.connection import HomeIsBusy
from warehouse.home import Home
from warehouse.lakehouse.attachment import server
from warehouse.settings.lakehouse import Lakehouse

COMMIT, PUBLICATION = "commit", "publication"
PAUSE = 0.2
"""Between two tries for a lease that another holds, s."""


def site(site_id: str) -> str:
    """Return the name of a site's lease."""
    return f"site {site_id}"


@dataclass
class Lease:
    """One lease on a server: taken, and taken again where its server was restarted."""

    settings: Lakehouse
    what: str
    _connection: Connection | None = field(default=None, repr=False)

    @property
    def key(self) -> int:
        """The lock's number: signed, 64 bits."""
        said = f"{self.settings.catalog_schema} {self.what}".encode()
        return int.from_bytes(hashlib.blake2b(said, digest_size=8).digest(), signed=True)

    def take(self) -> bool:
        """Take it, or make sure that it is still held; False where another holds it.

        Raises
        ------
        sqlalchemy.exc.DBAPIError
            The server could not be reached for as long as the settings allow.
        """
        end = time.monotonic() + self.settings.patience_seconds
        while True:
            try:
                if self._connection is not None:
                    self._connection.execute(text("select 1"))
                    return True
                engine = create_engine(server(self.settings.catalog), poolclass=NullPool, isolation_level="AUTOCOMMIT")
                self._connection = engine.connect()
                taken = self._connection.execute(text("select pg_try_advisory_lock(:key)"), {"key": self.key}).scalar()
                if not taken:
                    self.let_go()
                return bool(taken)
            except DBAPIError:
                self.let_go()
                if time.monotonic() > end:
                    raise
                time.sleep(PAUSE)

    def let_go(self) -> None:
        """Give it back; closing the connection does."""
        if self._connection is not None:
            with suppress(DBAPIError):
                self._connection.close()
            self._connection = None


@contextmanager
def held(home: Home, settings: Lakehouse, what: str, *, wait: bool = False) -> Iterator[Callable[[], bool]]:
    """Hold a lease; gives a function that makes sure it is still held, for just before something is written.

    Parameters
    ----------
    what
        `COMMIT`, `PUBLICATION`, or a site's.
    wait
        Wait until it is free, for ever; else raise.

    Raises
    ------
    HomeIsBusy
        Another process holds it.
    """
    if not settings.shared:
        with _file_held(home, what, wait=wait):
            yield lambda: True
        return
    lease = Lease(settings, what)
    while not lease.take():
        if not wait:
            raise HomeIsBusy(f"another worker is at work on {what}: wait until it has ended")
        time.sleep(PAUSE)
    try:
        yield lease.take
    finally:
        lease.let_go()


def free(home: Home, settings: Lakehouse, what: str) -> bool:
    """Return whether nobody holds a lease now."""
    try:
        with held(home, settings, what):
            return True
    except HomeIsBusy:
        return False


@contextmanager
def _file_held(home: Home, what: str, *, wait: bool) -> Iterator[None]:
    folder = home.private / "leases"
    folder.mkdir(parents=True, exist_ok=True)
    name = hashlib.blake2b(what.encode(), digest_size=8).hexdigest()
    with (folder / name).open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
        except OSError as fault:
            raise HomeIsBusy(f"another worker is at work on {what}: wait until it has ended") from fault
        yield
