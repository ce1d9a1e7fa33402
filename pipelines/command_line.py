"""The `academy` command: parses and calls. Here the layers meet, and nowhere else; no logic of theirs is here.

Imports are inside the commands, so that none pays for what it does not use.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import traceback
from contextlib import nullcontext
from datetime import datetime
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from pipelines.cli.arrivals import arrivals
from pipelines.cli.exports import exports
from pipelines.cli.operations import operations
from pipelines.cli.person import person
from pipelines.cli.query import queries
from pipelines.cli.trial import trial
from pipelines.cli.trial_safety import looked_into
from pipelines.lakehouse import serving
from pipelines.lakehouse.serving import LOCAL, Part
from pipelines.runs import run_log
from pipelines.runs.run_log import LogForm
from warehouse.home import Home
from warehouse.privacy import file_modes, messages

app = typer.Typer(
    name="academy",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Shot exports in, evidence out: which drill moves which number, for whom, by how much, and does it last.",
)
HomeOption = Annotated[
    Path | None, typer.Option("--home", help="The academy's folder; else $ACADEMY_HOME, else ./academy_home.")
]
PORT, WEB_PORT = 8501, 3000
app.add_typer(operations)
app.add_typer(exports)
app.add_typer(arrivals)
app.add_typer(person)
app.add_typer(queries)
app.add_typer(trial, name="trial")
trial.command("looked-into")(looked_into)


def stop(code: int, message: str) -> NoReturn:
    """Say why, last, and end with this code."""
    typer.echo(message, err=code not in {0, 3})
    raise typer.Exit(code)


def run_night(home: Home, *, site: str = "", log: LogForm = LogForm.TEXT, **options):
    """Run a night with progress on the terminal; return what became of it."""
    from pipelines.cli import output
    from pipelines.runs import one_machine as nightly

    # A service manager's stop is told as any other end.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(2))
    told = run_log.on_standard_output(home) if log is LogForm.JSON else nullcontext()
    with told, output.progress() as progress:
        if site:
            from pipelines.runs import lakehouse as many_sites

            night = many_sites.one_site(home, site, progress=progress, **options)
        else:
            night = nightly.run(home, progress=progress, **options)
    for warning in night.warnings if log is LogForm.TEXT else ():
        typer.echo(f"warning: {warning}")
    return night


@app.command()
def nightly(
    home: HomeOption = None,
    night: Annotated[
        datetime | None, typer.Option("--night", formats=["%Y-%m-%d"], help="Only this night's exports.")
    ] = None,
    rebuild: Annotated[bool, typer.Option("--rebuild", help="Everything again, from the landing folder.")] = False,
    by_day: Annotated[
        bool, typer.Option("--by-day", help="Sessions and blocks of what landed today; evidence as of the last night.")
    ] = False,
    site: Annotated[
        str, typer.Option("--site", help="Only this site, not published: a worker of a home on a lakehouse.")
    ] = "",
    log: Annotated[
        LogForm, typer.Option("--log", help="json: one line an event on standard output, for services.")
    ] = LogForm.TEXT,
) -> None:
    """Bring in what landed or changed and publish it.

    Exit code 0: published; 3: published with warnings; 2: not published, the reason printed last; 1: unexpected error.
    """
    if night and rebuild:
        stop(2, "--night and --rebuild exclude each other: a rebuild takes every night")
    if by_day and (rebuild or site):
        stop(2, "--by-day is one machine's, and not a rebuild: leave --rebuild and --site out")
    more = {"by_day": True} if by_day else {}
    only = night.date() if night else None
    done = run_night(Home.find(home), night=only, rebuild=rebuild, site=site, log=log, **more)
    if log is LogForm.JSON:
        raise typer.Exit(done.outcome)
    stop(done.outcome, done.message)


@app.command()
def demo(
    home: HomeOption = None,
    small: Annotated[bool, typer.Option("--small", help="Four weeks of one site.")] = False,
    no_dashboard: Annotated[bool, typer.Option("--no-dashboard", help="Stop after publishing.")] = False,
    port: Annotated[int, typer.Option(help="The dashboard's port.")] = PORT,
) -> None:
    """Make the invented academy if there is none, run every night, open the dashboard."""
    from demo_data import generate
    from pipelines.cli import demo_trials, output

    place = Home.find(home)
    if place.landing.exists():
        typer.echo(f"{place.landing} is there already: its academy is kept")
    else:
        today = datetime.now().astimezone().date()
        with output.progress() as progress, demo_trials.drawing(place, generate.SEED, today) as lots:
            generate.write_academy(place.landing, small=small, progress=progress, lots=lots)
    done = run_night(place)
    if done.outcome in {0, 3} and generate.deliver_late(place.landing):
        typer.echo("late and corrected files arrive; one more night")
        done = run_night(place)
    typer.echo(done.message, err=done.outcome not in {0, 3})
    if done.outcome not in {0, 3}:
        raise typer.Exit(done.outcome)
    if not no_dashboard:
        open_dashboard(place, port)


def open_dashboard(home: Home, port: int, address: str = "127.0.0.1") -> NoReturn:
    """Become the dashboard."""
    script = Path(__file__).parents[1] / "dashboard" / "streamlit_app.py"
    secrets = Path(os.environ.get("ACADEMY_SECRETS") or home.path / "secrets.toml")
    login = ["--secrets.files", str(secrets)] if secrets.exists() else []
    command = [
        sys.executable, "-m", "pipelines.cli.quiet_start", "streamlit", "run", str(script), "--server.port", str(port),
        "--server.address", address,
        "--server.headless", "true", "--browser.gatherUsageStats", "false", *login, "--", "--home", str(home.path),
    ]  # fmt: skip
    become(f"dashboard: http://{address}:{port}  (Ctrl-C stops it)", command, home)


def become(said: str, command: list[str], home: Home) -> NoReturn:
    """Run a home's server in the place of this process, so that what stops it stops the server and no stand-in."""
    typer.echo(said)
    sys.stdout.flush()
    os.execve(command[0], command, {**os.environ, "ACADEMY_HOME": str(home.path)})


@app.command()
def dashboard(
    home: HomeOption = None,
    port: Annotated[int, typer.Option(help="Port on this machine.")] = PORT,
    address: Annotated[
        str, typer.Option(help="Address to serve; other than this machine's own needs a login in HOME/secrets.toml.")
    ] = "127.0.0.1",
) -> None:
    """Open the dashboard on this machine."""
    open_dashboard(Home.find(home), port, address)


@app.command()
def serve(
    home: HomeOption = None,
    port: Annotated[int, typer.Option(help="Port of the web server, or of the workers.")] = WEB_PORT,
    part: Annotated[Part, typer.Option(help="Past one machine: only this process.")] = Part.ALL,
    address: Annotated[str, typer.Option(help="Address to serve; another than this machine's needs a guard.")] = LOCAL,
    workers: Annotated[str, typer.Option(help="host:port of the workers, for web and daemon.")] = f"{LOCAL}:4000",
    changes: Annotated[bool, typer.Option("--changes", help="Its pages may start runs and stop schedules.")] = False,
) -> None:
    """Run the Dagster web server, schedules and sensors, with the nightly schedule on."""
    from pipelines.runs import one_machine as night

    place = Home.find(home)
    night.ensure_instance(place, room=True)
    command = serving.command(part, address=address, port=port, workers=workers, changes=changes)
    told = f"pipeline: http://{address}:{port}  (Ctrl-C stops it)" if part is Part.ALL else f"pipeline: {part.value}"
    become(told, command, place)


@app.command()
def review(
    home: HomeOption = None,
    out: Annotated[Path | None, typer.Option("--out", help="Where to write it; else review.html in the home.")] = None,
) -> None:
    """Write the week in review as one self-contained HTML page."""
    place = Home.find(home)
    command = [sys.executable, "-m", "dashboard.handouts.week_review", "--home", str(place.path)]
    raise typer.Exit(subprocess.run(command + (["--out", str(out)] if out else []), check=False).returncode)


def main() -> None:
    """Run the command; an error nobody foresaw ends with 1 and its place in the code."""
    file_modes.keep_to_owner()
    try:
        app()
    except Exception as fault:
        home = Home.named_in(sys.argv)
        typer.echo(messages.shown(home, traceback.format_exc()), err=True, nl=False)
        typer.echo(messages.shown(home, f"unexpected error: {fault}"), err=True)
        sys.exit(1)
