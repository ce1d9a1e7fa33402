"""What assets share in a run: the home, its settings, and one connection to the private databases.

Not here: anything about a table.
"""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import dagster as dg
import duckdb
from pydantic import PrivateAttr

from warehouse import build, connection
from warehouse.build import Progress, silent
from warehouse.frames import Frames
from warehouse.home import Home
from warehouse.landing import exports, reference
from warehouse.settings import Settings, load

_progress: list[Progress] = [silent]


@contextmanager
def telling(progress: Progress) -> Iterator[None]:
    """Send progress of runs in this process to a callable."""
    _progress.append(progress)
    try:
        yield
    finally:
        _progress.pop()


@contextmanager
def scratch_inside(home: Home) -> Iterator[None]:
    """Let temporary files lie in the home: clean copies of exports name people, and a killed run leaves them behind."""
    scratch, before = home.private / "scratch", tempfile.tempdir
    shutil.rmtree(scratch, ignore_errors=True)
    scratch.mkdir()
    tempfile.tempdir = str(scratch)
    try:
        yield
    finally:
        tempfile.tempdir = before


class Academy(dg.ConfigurableResource):
    """One home, held for one run at a time."""

    home_path: str
    _open: ExitStack = PrivateAttr()
    _connection: duckdb.DuckDBPyConnection = PrivateAttr()
    _settings: Settings = PrivateAttr()
    _prepared: bool = PrivateAttr(default=False)
    _warnings: list[str] = PrivateAttr(default_factory=list)
    _frames: Frames = PrivateAttr(default_factory=Frames)

    def setup_for_execution(self, context: dg.InitResourceContext) -> None:
        """Lock the home and open its databases."""
        self._open = ExitStack()
        self._open.enter_context(connection.only_run(self.home))
        self._open.enter_context(scratch_inside(self.home))
        self._settings = load(self.home.path)
        self._connection = self._open.enter_context(connection.private(self.home))
        # Assets that need no raw table may come first, and all share what models need.
        reference.create_tables(self._connection)
        exports.create_tables(self._connection)

    def teardown_after_execution(self, context: dg.InitResourceContext) -> None:
        """Close the databases and let the home go."""
        self._open.close()

    @property
    def home(self) -> Home:
        """The home folder."""
        return Home(Path(self.home_path))

    @property
    def settings(self) -> Settings:
        """Settings as they were when the run began."""
        return self._settings

    @property
    def progress(self) -> Progress:
        """Where progress is told."""
        return _progress[-1]

    @property
    def warnings(self) -> list[str]:
        """What landing steps warned of in this run, for the publication to tell."""
        return self._warnings

    @property
    def frames(self) -> Frames:
        """What several tables read alike in this run."""
        return self._frames

    @property
    def raw(self) -> duckdb.DuckDBPyConnection:
        """The connection, for landing steps."""
        return self._connection

    @property
    def models(self) -> duckdb.DuckDBPyConnection:
        """The connection with all that models need, once raw tables are there."""
        if not self._prepared:
            build.prepare(self._connection, self._settings)
            self._prepared = True
        return self._connection
