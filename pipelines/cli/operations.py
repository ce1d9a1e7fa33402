"""Commands of whoever keeps the machine: doctor, backup, restore. They parse and call; no logic is here.

Not here: the commands of a night and its readers (command_line.py).
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from warehouse.home import Home

operations = typer.Typer()
HomeOption = Annotated[
    Path | None, typer.Option("--home", help="The academy's folder; else $ACADEMY_HOME, else ./academy_home.")
]


@operations.command()
def doctor(
    home: HomeOption = None,
    alert: Annotated[
        bool, typer.Option("--alert", help="Tell faults and silence to the alert command, for a timer.")
    ] = False,
) -> None:
    """Look at this machine and home: versions, disk, rights, clock, profiles, databases. Changes nothing.

    Exit code 0: all well; 3: warnings; 2: faults, each line with its remedy.
    """
    from pipelines.care import doctor as examination

    place = Home.find(home)
    found = examination.examine(place)
    for finding in found:
        typer.echo(finding)
    for fault in examination.tell(place, found) if alert else []:
        typer.echo(fault, err=True)
    raise typer.Exit(examination.worst(found))


@operations.command()
def backup(
    into: Annotated[Path, typer.Argument(help="A folder that does not exist yet.")],
    home: HomeOption = None,
    landing: Annotated[bool, typer.Option("--landing", help="The landing folder too.")] = False,
) -> None:
    """Copy what cannot be made again: notebook, settings, landing if asked. Databases are built again from landing."""
    from warehouse.publishing import backup as keeping
    from warehouse.settings import settings

    place = Home.find(home)
    try:
        url = settings.load(place.path).notebook.url
        for line in keeping.back_up(place, into, landing=landing, notebook_url=url):
            typer.echo(line)
    except ValueError as fault:
        typer.echo(str(fault), err=True)
        raise typer.Exit(2) from None


@operations.command()
def restore(
    source: Annotated[Path, typer.Argument(help="A folder that `academy backup` made.")],
    home: HomeOption = None,
    replace: Annotated[bool, typer.Option("--replace", help="Replace what is there; it is kept beside.")] = False,
) -> None:
    """Take a backup back; every file in it is checked first."""
    from warehouse import connection
    from warehouse.publishing import backup as keeping
    from warehouse.settings import settings

    place = Home.find(home)
    try:
        with connection.only_run(place):
            url = settings.load(place.path).notebook.url
            for line in keeping.restore(place, source, replace=replace, notebook_url=url):
                typer.echo(line)
    except (ValueError, RuntimeError) as fault:
        typer.echo(str(fault), err=True)
        raise typer.Exit(2) from None
