"""A night in a process of its own that tells how far it is and can be killed; and what a database then holds."""

from __future__ import annotations

import multiprocessing
import shutil
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import count
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from multiprocessing.synchronize import Event
from pathlib import Path

import duckdb

from warehouse.home import Home

SAMPLE = Path(__file__).parents[2] / "demo_data" / "sample"
LONGEST = 300
"""Seconds after which a night is taken to hang."""
OF_THE_RUN = {
    "ops.export_file": "* exclude (read_at)",
    "ops.night": "night, shots",
    "ops.rejected_row": "*",
}
"""Columns of ops that do not depend on when a run was made."""
STARTER = multiprocessing.get_context("forkserver")
"""Processes begin with the pipeline imported, so that twenty nights do not pay for twenty imports."""
STARTER.set_forkserver_preload(["pipelines.runs.one_machine", "pipelines.graph.publish_asset"])

PUBLISHED = {0, 3}
Content = dict[str, tuple[int, str]]


@dataclass(frozen=True)
class Undisturbed:
    """A home with a good night published and late files landed, and what it is to hold before and after them."""

    waiting: Path
    before: Content
    after: Content
    steps: int


def work(home: Path, tell: Connection, prepare: Callable[[Path], None] | None, halt: int, go_on: Event) -> None:
    """Run one night in this process and tell its progress, then its outcome and message."""
    from pipelines.runs import one_machine

    if prepare is not None:
        prepare(home)
    told = count(1)

    def progress(what: str, done: int, of: int) -> None:
        tell.send((what, done, of))
        if next(told) == halt:
            go_on.wait()

    done = one_machine.run(Home(home), progress=progress)
    tell.send((int(done.outcome), done.message))


@dataclass
class NightProcess:
    """One night at work.

    Attributes
    ----------
    home
        The home it works on.
    halt
        After which step told it waits to be let on; 0: after none.
    steps
        What it has told of its progress.
    outcome, message
        As `nightly.run` returned them; None while it has not, and for ever if it was killed.
    """

    home: Path
    prepare: Callable[[Path], None] | None = None
    halt: int = 0
    steps: list[str] = field(default_factory=list)
    outcome: int | None = None
    message: str = ""
    _process: BaseProcess = field(init=False, repr=False)
    _told: Connection = field(init=False, repr=False)
    _go_on: Event = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Start it."""
        self._told, tell = STARTER.Pipe(duplex=False)
        self._go_on = STARTER.Event()
        self._process = STARTER.Process(target=work, args=(self.home, tell, self.prepare, self.halt, self._go_on))
        self._process.start()
        tell.close()

    def until(self, steps: int) -> bool:
        """Wait until it has told this many steps; False if it ended before."""
        end = time.monotonic() + LONGEST
        while len(self.steps) < steps:
            if not self._told.poll(max(end - time.monotonic(), 0)):
                self._process.kill()
                raise TimeoutError(f"the night told nothing more after {self.steps[-1:]}")
            try:
                said = self._told.recv()
            except EOFError:
                return False
            if isinstance(said[0], int):
                self.outcome, self.message = said
                return False
            self.steps.append(said[0])
        return True

    def kill(self) -> bool:
        """End it by SIGKILL, and hear what it had told by then; True if it was still at work."""
        at_work = self._process.is_alive()
        self._process.kill()
        self._process.join()
        with suppress(EOFError):
            while self._told.poll():
                said = self._told.recv()
                if not isinstance(said[0], int):
                    self.steps.append(said[0])
        return at_work and self._process.exitcode == -9

    def let_on(self) -> NightProcess:
        """Let it go on from where it halts."""
        self._go_on.set()
        return self

    def finish(self) -> NightProcess:
        """Wait for its end."""
        while self.until(len(self.steps) + 1):
            pass
        self._process.join(LONGEST)
        return self


def night(home: Path, prepare: Callable[[Path], None] | None = None) -> NightProcess:
    """Run one night to its end."""
    return NightProcess(home, prepare).finish()


def land_late(home: Path) -> None:
    """Let the sample's late and corrected files arrive."""
    for arrival in sorted((SAMPLE / "landing_late").iterdir()):
        shutil.copytree(arrival, home / "landing" / "shots", dirs_exist_ok=True)


def content(path: Path) -> Content:
    """Return rows and an order-free digest of every core and mart table, and of ops where it is not about the run."""
    with duckdb.connect(path.resolve(strict=True), read_only=True) as opened:
        found = opened.execute(
            "select schema_name || '.' || table_name from duckdb_tables() where schema_name in ('core', 'mart')"
        ).fetchall()
        columns = {name: "*" for (name,) in found} | OF_THE_RUN
        return {
            table: opened.execute(
                f"select count(*), coalesce(sum(hash(held)), 0)::varchar from (select {chosen} from {table}) as held"
            ).fetchone()
            for table, chosen in columns.items()
        }


def leftovers(home: Path) -> list[str]:
    """Return files in the home that only a night at work has a use for."""
    kinds = ("published/*.incoming*", "published/.current.*", "published/last_run.*.json", "warehouse/*.wal",
             "warehouse/*.tmp", "warehouse/scratch/*")  # fmt: skip
    return sorted(str(path.relative_to(home)) for kind in kinds for path in home.glob(kind))
