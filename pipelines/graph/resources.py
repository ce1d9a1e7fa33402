"""What assets share in a run: the home, its settings, and one connection to the private databases.

Not here: anything about a table.
"""

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import date
from pathlib import Path

import dagster as dg
import duckdb
from pydantic import PrivateAttr

from pipelines.runs import run_events
from warehouse import connection
from warehouse.build import fingerprints, refit_policy, run
from warehouse.build.run import Progress, silent
from warehouse.build.shared_frames import Frames
from warehouse.erasure import older_base
from warehouse.home import Home
from warehouse.lakehouse import lease, publication
from warehouse.lakehouse.attachment import Lake
from warehouse.lakehouse.publication import Brought
from warehouse.landing.exports import load as exports
from warehouse.landing.reference import load as reference
from warehouse.settings.clock import nights_read
from warehouse.settings.settings import Settings, load

_progress: list[Progress] = [silent]


@contextmanager
def telling(progress: Progress) -> Iterator[None]:
    """Send progress of runs in this process to a callable."""
    _progress.append(progress)
    try:
        yield
    finally:
        _progress.pop()


def at_work() -> Progress:
    """Return where progress of runs in this process is told."""
    return _progress[-1]


@contextmanager
def scratch_inside(scratch: Path) -> Iterator[None]:
    """Let temporary files lie in the home: clean copies of exports name people, and a killed run leaves them behind."""
    before = tempfile.tempdir
    shutil.rmtree(scratch, ignore_errors=True)
    scratch.mkdir(parents=True)
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
    _frames: Frames = PrivateAttr()
    _lake: Lake = PrivateAttr()
    _brought: Brought = PrivateAttr()
    _made_from: date | None = PrivateAttr(default=None)

    def setup_for_execution(self, context: dg.InitResourceContext) -> None:
        """Lock the home and open its databases."""
        if context.run is not None:
            run_events.follow(self.home, context.instance, context.run.run_id)
        with ExitStack() as opening:
            opening.enter_context(connection.only_run(self.home))
            opening.enter_context(scratch_inside(self.home.private / "scratch"))
            self._settings = load(self.home.path)
            self._frames = Frames()
            older_base.leave_names_out(self.home)
            self._connection = opening.enter_context(connection.private(self.home))
            # Assets that need no raw table may come first, and all share what models need.
            reference.create_tables(self._connection)
            exports.create_tables(self._connection)
            withdrawn = fingerprints.withdraw(self._connection, nights_read(self._settings))
            self._warnings.extend(f"what was read of the night {night} before is taken out: nobody can have had it"
                                  for night in withdrawn)  # fmt: skip
            if self._settings.lakehouse.on:
                opening.enter_context(lease.held(self.home, self._settings.lakehouse, lease.PUBLICATION))
                self._lake = Lake.beside(self._connection, self.home, self._settings)
            self._open = opening.pop_all()

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
        return at_work()

    @property
    def lake(self) -> Lake:
        """The lakehouse beside the connection's tables, which are made first; only where the settings name one."""
        self._prepare()
        return self._lake

    @property
    def brought(self) -> Brought:
        """What this run brought in from the lakehouse."""
        return self._brought

    def bring_in(self) -> Brought:
        """Bring in what sites committed to the lakehouse, into tables made as models need them."""
        self._brought = publication.bring_in(self.lake)
        return self._brought

    @property
    def warnings(self) -> list[str]:
        """What landing steps warned of in this run, for the publication to tell."""
        return self._warnings

    def decide_renewal(self) -> None:
        """Decide, once nights are built, whether the tables fitted to the history are made anew, and tell it."""
        why = refit_policy.due(self.models, self.settings)
        self._made_from = refit_policy.made_from(self.models, self.settings) if why is None else None
        run_events.evidence(why)

    @property
    def carries_over(self) -> bool:
        """Whether this run carries the fitted tables over."""
        return self._made_from is not None

    @property
    def made_from(self) -> date | None:
        """From which day on the other tables are made, where the fitted ones are carried over."""
        return self._made_from

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
        self._prepare()
        return self._connection

    def _prepare(self) -> None:
        if self._prepared:
            return
        if other := run.prepare(self._connection, self._settings):
            run_events.other_version(other)
            self._warnings.append(f"another version of the program made {', '.join(other)}: made again, or dropped")
        self._prepared = True
