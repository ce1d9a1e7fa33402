"""Commands about one person's data: forget, held. They parse and call; no logic is here.

Not here: what is forgotten and held (warehouse/erasure).
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.cli.operations import HomeOption
from warehouse.home import Home

person = typer.Typer()


@person.command()
def forget(
    student_id: Annotated[str, typer.Argument(help="The student's id.")],
    home: HomeOption = None,
    rewrite_landing: Annotated[
        bool, typer.Option("--rewrite-landing", help="Take the person out of the landing folder's files too.")
    ] = False,
) -> None:
    """Take a person out: databases, published files old and new, notebook; names the files that still hold them."""
    from warehouse import connection
    from warehouse.erasure import erase as forgetting
    from warehouse.settings import settings

    place = Home.find(home)
    try:
        kept = settings.load(place.path)
        url = place.notebook_url(kept.notebook.url)
        with connection.only_run(place):
            for line in forgetting.forget(
                place, student_id, notebook_url=url, rewrite_landing=rewrite_landing, settings=kept
            ):
                typer.echo(line)
    except (ValueError, RuntimeError) as fault:
        typer.echo(str(fault), err=True)
        raise typer.Exit(2) from None


@person.command()
def held(
    student_id: Annotated[str, typer.Argument(help="The student's id.")],
    out: Annotated[Path, typer.Option("--out", help="Folder for one CSV file a table.")],
    home: HomeOption = None,
) -> None:
    """Write a copy of all that is held on a person, for the person or a guardian."""
    from warehouse.erasure import erase as forgetting
    from warehouse.query import guard
    from warehouse.settings import settings

    place = Home.find(home)
    kept = settings.load(place.path)
    url = place.notebook_url(kept.notebook.url)
    out.mkdir(parents=True, exist_ok=True)
    for table, rows in forgetting.held_on(place, student_id, notebook_url=url, settings=kept).items():
        name = "".join(letter if letter.isalnum() else "_" for letter in table).strip("_")
        (out / f"{name}.csv").write_bytes(guard.to_csv_safe(rows))
        typer.echo(f"{rows.height:,} rows of {table}")
