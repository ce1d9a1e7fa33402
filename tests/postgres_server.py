"""A real PostgreSQL for tests: in a folder of its own, on this machine only, as an account without rights."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.clock import PATIENCE
from tests.ports import free_port

MISSING = "PostgreSQL is not installed, and the lakehouse is tried against it: apt-get install postgresql"
USER, DATABASE = "academy", "lake"


def programs() -> Path:
    """Return the folder of the newest PostgreSQL's programs."""
    found = [path.parent for path in Path("/usr/lib/postgresql").glob("*/bin/initdb")]
    on_path = shutil.which("initdb")
    if not found and on_path is None:
        pytest.fail(MISSING)
    return max(found, key=lambda path: float(path.parent.name)) if found else Path(on_path).resolve().parent


def account() -> str | None:
    """Return whom the server runs as: initdb refuses root; None is whoever runs the tests."""
    if os.geteuid():
        return None
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


@dataclass
class PostgresServer:
    """One server; `url` is as academy.toml names it."""

    folder: Path
    port: int

    @property
    def url(self) -> str:
        """Return its URL."""
        return f"postgresql://{USER}@127.0.0.1:{self.port}/{DATABASE}"

    @property
    def sqlalchemy_url(self) -> str:
        """Return its URL with the driver that is installed."""
        return self.url.replace("postgresql://", "postgresql+psycopg2://")

    def run(self, program: str, *arguments: str) -> None:
        """Run one of its programs."""
        said = subprocess.run(
            [str(programs() / program), *arguments], user=account(), extra_groups=[] if account() else None,
            cwd=self.folder, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL,
        )  # fmt: skip
        assert said.returncode == 0, said.stdout + said.stderr + self.log()

    def start(self) -> None:
        """Start it and wait until it answers; without disk flushes, since the machine is not what is killed."""
        options = f"-p {self.port} -k {self.folder} -c listen_addresses=127.0.0.1 -c fsync=off -c max_connections=60"
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-l", str(self.folder / "log"), "-t", str(PATIENCE),
                 "-o", options, "start")  # fmt: skip

    def stop(self) -> None:
        """End it at once, without a word to those connected: the next start recovers as after a crash."""
        self.run("pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "-t", str(PATIENCE), "stop")

    def log(self) -> str:
        """Return the end of its log."""
        path = self.folder / "log"
        return path.read_text(encoding="utf-8", errors="replace")[-2000:] if path.exists() else ""


@contextmanager
def running_server() -> Iterator[PostgresServer]:
    """Make a server with one empty database, and end it and its folder afterwards."""
    folder = Path(tempfile.mkdtemp(prefix="academy-postgres-"))
    if account():
        shutil.chown(folder, account())
    server = PostgresServer(folder, free_port())
    try:
        server.run("initdb", "-D", str(folder / "data"), "-A", "trust", "-U", USER, "--no-sync", "--locale=C",
                   "--encoding=UTF8")  # fmt: skip
        server.start()
        server.run("createdb", "-h", str(folder), "-p", str(server.port), "-U", USER, DATABASE)
        yield server
    finally:
        if (folder / "data" / "postmaster.pid").exists():
            server.stop()
        shutil.rmtree(folder, ignore_errors=True)
