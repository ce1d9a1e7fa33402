"""Commands for an academy's own files before they are trusted: start, learn a make, try a profile. They parse and call.

Not here: how anything is found or tried (warehouse/landing), nor how it is shown (export_output.py).
"""

from __future__ import annotations

import os
from datetime import datetime
from pathlib import Path
from typing import Annotated

import typer

from warehouse.home import Home

exports = typer.Typer()
HomeOption = Annotated[
    Path | None, typer.Option("--home", help="The academy's folder; else $ACADEMY_HOME, else ./academy_home.")
]


@exports.command("learn-export")
def learn_export(
    name: Annotated[str, typer.Argument(help="The make's name, as bays.csv will have it in export_profile.")],
    files: Annotated[list[Path], typer.Argument(help="Sample exports of this make, or folders of them.")],
    home: HomeOption = None,
    answers: Annotated[
        list[str] | None, typer.Option("--answer", help="KEY=ANSWER, such as columns.lateral.positive=left.")
    ] = None,
    anew: Annotated[bool, typer.Option("--anew", help="Forget what the profile says already.")] = False,
) -> None:
    """Read sample exports and propose the profile that reads them; ask what they cannot tell.

    Writes HOME/landing/profiles/NAME.toml. What stands there is kept, so run it again after answering. Exit code 0: all
    that is required is known; 3: questions are left, in the file where the answers go; 2: no table found, and why.
    """
    from pipelines.cli import export_output
    from warehouse.landing.learning import propose

    place = Home.find(home)
    try:
        done = propose.propose(name, files, place.path, answers=answers or [], anew=anew)
    except ValueError as fault:
        typer.echo(str(fault), err=True)
        raise typer.Exit(2) from None
    for line in export_output.learned(done, os.get_terminal_size().columns if os.isatty(1) else 160):
        typer.echo(line)
    raise typer.Exit(done.outcome)


@exports.command("check-exports")
def check_exports(
    profile: Annotated[Path, typer.Argument(help="The export profile (TOML), or its name in the home.")],
    files: Annotated[list[Path], typer.Argument(help="Exports to try it on.")],
    home: HomeOption = None,
    bay: Annotated[str, typer.Option("--bay", help="The bay they are of: its site's clock counts.")] = "",
    night: Annotated[
        datetime | None, typer.Option("--night", formats=["%Y-%m-%d"], help="Hold the rows to this night.")
    ] = None,
    rows: Annotated[bool, typer.Option("--rows", help="Show each file's columns and first rows too.")] = False,
) -> None:
    """Try a profile on real files before they are trusted; loads nothing.

    Exit code 0: all rows would load; 3: some would be lost; 2: none would, or the profile reads them wrongly.
    """
    from pipelines.cli import export_output, output
    from warehouse.landing.exports import try_at_home

    try:
        tried = try_at_home.try_at_home(profile, files, Home.find(home).path, bay, night.date() if night else None)
    except ValueError as fault:
        typer.echo(str(fault), err=True)
        raise typer.Exit(2) from None
    if rows or tried.trial.fault:
        output.show_trial(tried.trial)
    if tried.trial.fault:
        raise typer.Exit(2)
    for line in export_output.summary(tried):
        typer.echo(line)
    raise typer.Exit(tried.summary.outcome)


@exports.command()
def start(
    home: HomeOption = None,
    source: Annotated[
        Path | None, typer.Option("--from", help="Your own workbook (.xlsx, .ods), a CSV file or a folder of them.")
    ] = None,
    mapping: Annotated[
        Path | None, typer.Option("--mapping", help="TOML: which sheet and column is which; else HOME/workbook.toml.")
    ] = None,
    take: Annotated[
        list[str] | None, typer.Option("--take", help="TABLE.COLUMN in which the workbook wins over the home.")
    ] = None,
    look: Annotated[bool, typer.Option("--look", help="Only show what would be written.")] = False,
    timezone: Annotated[
        str, typer.Option("--timezone", help="IANA zone of the academy, such as Europe/Lisbon; else that of sites.csv.")
    ] = "",
) -> None:
    """Make a home for a real academy: settings, header-only tables, a sample profile; or take its own workbook over.

    Run it again with the month's workbook: new rows are added, what was corrected here stays. Exit code 0: done; 3:
    questions are left in the mapping; 2: faults are left; tables are written only with 0.
    """
    from warehouse.landing.onboarding import make_home
    from warehouse.settings.settings import Academy, commented_toml, load
    from warehouse.settings.site_zones import zones_of_sites

    place = Home.find(home).path
    try:
        text = commented_toml(Academy(timezone=timezone).timezone if timezone else "")
        code, lines = make_home.start(place, text, source, mapping, take or [], look)
    except ValueError as fault:
        typer.echo(str(fault), err=True)
        raise typer.Exit(2) from None
    for line in lines:
        typer.echo(line)
    if not look and not zones_of_sites(place) and "timezone" not in load(place).academy.model_fields_set:
        typer.echo("In which time zone is the academy? Say it in sites.csv, or as [academy] timezone in academy.toml; "
                   "until then its nights end by UTC.")  # fmt: skip
    raise typer.Exit(code)
