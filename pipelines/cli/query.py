"""`academy sql`: one query on the published version that is good, its rows shown, or written whole where asked for.

Imports are inside the functions, so that no other command pays for them. Not here: how a query is held in
(warehouse/query).
"""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from warehouse.home import Home

CUT = 3
queries = typer.Typer()
HomeOption = Annotated[
    Path | None, typer.Option("--home", help="The academy's folder; else $ACADEMY_HOME, else ./academy_home.")
]


def refuse(why: str) -> NoReturn:
    """Say why, and end with 2."""
    typer.echo(why, err=True)
    raise typer.Exit(2)


@queries.command()
def sql(
    query: Annotated[str, typer.Argument(help="One select.")],
    home: HomeOption = None,
    csv: Annotated[bool, typer.Option("--csv", help="All rows as CSV, safe to open in a spreadsheet.")] = False,
    parquet: Annotated[Path | None, typer.Option("--parquet", help="All rows into this file, as Parquet.")] = None,
    json: Annotated[bool, typer.Option("--json", help="All rows as JSON.")] = False,
) -> None:
    """Run one read-only query on the published file.

    Exit code 0: all rows; 3: cut at a limit of [exports] in academy.toml, which is said; 2: refused, the reason last.
    """
    from warehouse.query import guard

    place = Home.find(home)
    if csv + json + (parquet is not None) > 1:
        refuse("--csv, --json and --parquet exclude each other: write one at a time")
    published = published_version(place)
    try:
        if parquet is None and not csv and not json:
            from pipelines.cli import output

            output.show_result(guard.run(published, query))
        elif parquet is None:
            write(place, published, query, "csv" if csv else "json")
        else:
            write_file(place, published, query, parquet)
    except guard.QueryRefused as refused:
        refuse(str(refused))


def published_version(place: Home) -> Path:
    """Return the published version to read; say where it is not the one published last, and end where there is none."""
    from warehouse.publishing import manifest

    good = manifest.good_version(place)
    said = manifest.in_words(good)
    if good.path is None:
        refuse(said or f"nothing is published in {place.path} yet: run `academy nightly --home {place.path}`")
    if said:
        typer.echo(f"warning: {said}", err=True)
    return good.path


def write(place: Home, published: Path, query: str, form: str) -> None:
    """Write all rows to standard output; a reader who has seen enough may close it."""
    from warehouse.query import export
    from warehouse.settings.settings import load

    limits = load(place.path).exports
    try:
        done = export.export(published, query, sys.stdout.buffer, export.Form(form), limits)
        sys.stdout.buffer.flush()
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return
    tell_cut(done.in_words(limits))


def write_file(place: Home, published: Path, query: str, path: Path) -> None:
    """Write all rows into a file, which is there whole or not at all."""
    from warehouse.query import export
    from warehouse.settings.settings import load

    limits = load(place.path).exports
    incoming = path.with_name(f".{path.name}.{os.getpid()}.incoming")
    try:
        with incoming.open("wb") as file:
            done = export.export(published, query, file, export.Form.PARQUET, limits)
        os.replace(incoming, path)
    except OSError as fault:
        refuse(f"{path} cannot be written ({fault.strerror}): look at its folder, its rights and the disk")
    finally:
        with suppress(OSError):
            incoming.unlink(missing_ok=True)
    typer.echo(f"{done.rows:,} rows in {path}")
    tell_cut(done.in_words(limits))


def tell_cut(said: str | None) -> None:
    """Say that rows were cut, and end with 3."""
    if said:
        typer.echo(said, err=True)
        raise typer.Exit(CUT)
