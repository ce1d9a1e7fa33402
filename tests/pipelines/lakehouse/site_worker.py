"""A site's worker in a process of its own that tells how far it is and can be killed."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path

from tests.pipelines.killed_night import LONGEST, STARTER
from warehouse.home import Home


def work(home: Path, site_id: str, tell: Connection) -> None:
    """Bring a site in and tell its progress, then how often a step was repeated, or why it failed."""
    from warehouse.lakehouse import sites
    from warehouse.settings.settings import load

    try:
        done = sites.bring_in(Home(home), load(home), site_id, progress=lambda what, _done, _of: tell.send(what))
        tell.send(done.repeated)
    except Exception as fault:
        tell.send(fault)


@dataclass
class SiteWorker:
    """One worker; `repeated` is set once it has committed, `fault` where it failed, neither where it was killed."""

    home: Path
    site_id: str
    steps: list[str] = field(default_factory=list)
    repeated: int | None = None
    fault: Exception | None = None
    _process: BaseProcess = field(init=False, repr=False)
    _told: Connection = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Start it."""
        self._told, tell = STARTER.Pipe(duplex=False)
        self._process = STARTER.Process(target=work, args=(self.home, self.site_id, tell))
        self._process.start()
        tell.close()

    def until(self, step: str) -> bool:
        """Wait until it tells a step; False if it ended before."""
        end = time.monotonic() + LONGEST
        while step not in self.steps:
            if not self._told.poll(max(end - time.monotonic(), 0)):
                self._process.kill()
                raise TimeoutError(f"site {self.site_id} told nothing more after {self.steps[-1:]}")
            try:
                said = self._told.recv()
            except EOFError:
                return False
            if isinstance(said, str):
                self.steps.append(said)
            else:
                self.repeated, self.fault = (None, said) if isinstance(said, Exception) else (said, None)
                return False
        return True

    def kill(self) -> bool:
        """End it by SIGKILL; True if it was still at work."""
        self._process.kill()
        self._process.join()
        return self._process.exitcode == -9

    def finish(self) -> SiteWorker:
        """Wait for its end."""
        while self.until("its end, which it does not tell"):
            pass
        self._process.join(LONGEST)
        return self
