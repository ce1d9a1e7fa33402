"""What `academy sql` does: the published version that is good, one query on it, and its rows where they were asked for.

Not here: how a query is held in (warehouse/query).
"""

from __future__ import annotations

from pathlib import Path

import typer

from pipelines.cli import output
from warehouse.home import Home
from warehouse.publishing import manifest
from warehouse.query import guard


class NoAnswer(Exception):
    """There is nothing to ask, or the query was refused; the message says what to do."""


def published_version(place: Home) -> Path:
    """Return the published version to read; say where it is not the one published last.

    Raises
    ------
    NoAnswer
        None is published, or none is good.
    """
    good = manifest.good_version(place)
    said = manifest.in_words(good)
    if good.path is None:
        raise NoAnswer(said or f"nothing is published in {place.path} yet: run `academy nightly --home {place.path}`")
    if said:
        typer.echo(f"warning: {said}", err=True)
    return good.path


def ask(place: Home, query: str, *, csv: bool, parquet: Path | None, json: bool) -> None:
    """Run one query and show its rows, or write them as asked.

    Raises
    ------
    NoAnswer
        There is nothing to ask, or the query was refused.
    """
    try:
        result = guard.run(published_version(place), query)
    except guard.QueryRefused as refused:
        raise NoAnswer(str(refused)) from None
    output.show_result(result, csv=csv, parquet=parquet, json=json)
