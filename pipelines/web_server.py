"""Dagster's own server, asked by its own names only and read-only unless asked otherwise.

    python -m pipelines.web_server web … [--read-only]     the pages alone (options of dagster-webserver)
    python -m pipelines.web_server all … [--read-only]     pages, schedules and sensors (options of dagster dev)

Dagster has no layer of its own for this: its server and its starter are run as they are, with the app that they make
put behind the layer that the dashboard has too. Not here: how the processes are started (lakehouse/serving.py).
"""

from __future__ import annotations

import sys
from typing import Any

from dagster._cli import dev
from dagster_webserver import cli
from starlette.responses import PlainTextResponse

from warehouse.home import Home
from warehouse.serving.own_addresses import App, OwnAddressesOnly, Receive, Scope, Send, addresses
from warehouse.settings.settings import load

READ_ONLY = "--read-only"
READS = frozenset({"GET", "HEAD", "OPTIONS"})
GRAPHQL = "/graphql"
"""Asked by POST also for what only reads; Dagster itself refuses what changes something there."""


class Reading:
    """An ASGI layer: nothing can be reported by an address of its own while pages only show."""

    def __init__(self, app: App) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        changes = scope["type"] == "http" and scope["method"] not in READS and scope["path"] != GRAPHQL
        refused = PlainTextResponse("These pages only show: academy serve --changes lets them change.", 403)
        await (refused if changes else self.app)(scope, receive, send)


def serve_web(arguments: list[str]) -> None:
    """Become Dagster's web server."""
    made = cli.create_app_from_workspace_process_context
    listens_on = after(arguments, "--host", "-h") or cli.DEFAULT_WEBSERVER_HOST
    known = addresses(listens_on, load(Home.find().path).access.hosts)

    def guarded(context: Any, *args: Any, **options: Any) -> App:
        app = made(context, *args, **options)
        return OwnAddressesOnly(Reading(app) if context.read_only else app, known)

    cli.create_app_from_workspace_process_context = guarded
    cli.dagster_webserver(arguments, prog_name="web", auto_envvar_prefix="DAGSTER_WEBSERVER")


def serve_all(arguments: list[str]) -> None:
    """Become Dagster's starter of everything, whose web server is the one above."""
    begin = dev.open_ipc_subprocess
    more = [READ_ONLY] if READ_ONLY in arguments else []

    def begin_guarded(command: list[str], **options: Any) -> Any:
        if "dagster_webserver" in command:
            place = command.index("dagster_webserver")
            command = [*command[:place], "pipelines.web_server", "web", *more, *command[place + 1 :]]
        return begin(command, **options)

    dev.open_ipc_subprocess = begin_guarded
    dev.dev_command([one for one in arguments if one != READ_ONLY], prog_name="all")


def after(arguments: list[str], *names: str) -> str:
    """Return the value that follows an option; empty where it is not given."""
    return next((arguments[place + 1] for place, one in enumerate(arguments[:-1]) if one in names), "")


if __name__ == "__main__":
    {"web": serve_web, "all": serve_all}[sys.argv[1]](sys.argv[2:])
