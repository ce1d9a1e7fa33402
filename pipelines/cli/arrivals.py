"""Commands of whoever sees to the exports: what is missing, a file taken all the same, a file taken back.

They parse and call; no logic is here. Not here: trying a profile (exports.py).
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from warehouse.home import Home

arrivals = typer.Typer()
HomeOption = Annotated[
    Path | None, typer.Option("--home", help="The academy's folder; else $ACADEMY_HOME, else ./academy_home.")
]
PathArgument = Annotated[str, typer.Argument(help="Its path under landing/shots, such as 2024-02-19/B01.csv.")]
NoteOption = Annotated[str, typer.Option("--note", help="Why, for the book; no names.")]


@arrivals.command()
def missing(
    home: HomeOption = None,
    first: Annotated[str, typer.Option("--from", help="First night, such as 2024-02-19.")] = "",
    last: Annotated[str, typer.Option("--to", help="Last night; else yesterday.")] = "",
) -> None:
    """Say which bays' exports are missing or refused, and what to do: of the nights up to yesterday, or of a span.

    Exit code 0: nothing is missing; 3: something is, each line with its remedy; 2: it cannot be told.
    """
    from warehouse.audit import silence

    place = Home.find(home)
    try:
        span = [date.fromisoformat(day) if day else None for day in (first, last)]
        found = silence.examine(place, *span)
    except ValueError as fault:
        typer.echo(str(fault), err=True)
        raise typer.Exit(2) from None
    for line in found.lines:
        typer.echo(line)
    typer.echo(found.summary)
    raise typer.Exit(3 if found.lines else 0)


@arrivals.command("take-export")
def take_export(path: PathArgument, home: HomeOption = None, note: NoteOption = "") -> None:
    """Take a file that is kept out because it would lose or shorten too much; noted in the book of decisions."""
    decide(path, home, "take", note)


@arrivals.command("withdraw-export")
def withdraw_export(path: PathArgument, home: HomeOption = None, note: NoteOption = "") -> None:
    """Take a wrong file back: the next run takes out what was loaded from it; noted in the book of decisions."""
    decide(path, home, "withdraw", note)


def decide(path: str, home: Path | None, decision: str, note: str) -> None:
    """Note a decision about an export."""
    from warehouse import connection
    from warehouse.landing.exports import decisions

    place = Home.find(home)
    try:
        with connection.only_run(place):
            known = decisions.contents(place.landing, place.private / "raw.duckdb", path)
            # Taken is what lies there now; taken back is all that ever came from it.
            for known_path, content in known[:1] if decision == decisions.TAKE and "inbox/" not in path else known:
                decisions.add(place.landing, known_path, content, decision, note)
                typer.echo(f"{decision} {known_path}: noted in {decisions.place(place.landing)}")
    except (ValueError, RuntimeError) as fault:
        typer.echo(str(fault), err=True)
        raise typer.Exit(2) from None
    typer.echo(f"the next run does it: academy nightly --home {place.path}")
