"""Dagster's processes started one by one, so that each may have a machine or container of its own."""

from __future__ import annotations

import sys
from enum import StrEnum

LOCAL = "127.0.0.1"
CODE_PORT = 4000
"""Where runs are started: the workers' port."""


class Part(StrEnum):
    """Which of the processes."""

    ALL = "all"
    WEB = "web"
    DAEMON = "daemon"
    WORKERS = "workers"


def command(part: Part, *, address: str, port: int, workers: str, changes: bool = False) -> list[str]:
    """Return the command that runs a part.

    Parameters
    ----------
    address, port
        Where it is to be reached; the daemon is reached by nobody.
    workers
        host:port of the workers; the web server and the daemon ask them for definitions, and runs start there.
    changes
        Whether Dagster's pages may start runs and switch schedules; else they only show.
    """
    web = [sys.executable, "-m", "pipelines.web_server"]
    only_shows = [] if changes else ["--read-only"]
    host, _, code_port = workers.partition(":")
    asked = ["--grpc-host", host, "--grpc-port", code_port or str(CODE_PORT)]
    if part is Part.WEB:
        return [*web, "web", *only_shows, "-h", address, "-p", str(port), *asked]
    if part is Part.DAEMON:
        return [sys.executable, "-m", "dagster._daemon", "run", *asked]
    if part is Part.WORKERS:
        served = ["-m", "pipelines.serve", "-h", address, "-p", str(port)]
        return [sys.executable, "-m", "dagster", "code-server", "start", *served]
    return [*web, "all", *only_shows, "-m", "pipelines.serve", "-h", address, "-p", str(port)]
