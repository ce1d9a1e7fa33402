"""What the command shows on a terminal: progress, trials of a profile, query results. Words and widths only."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import typer

from warehouse.build import Progress


@contextmanager
def progress() -> Iterator[Progress]:
    """Show progress: a bar on a terminal, a line a step elsewhere."""
    if not sys.stderr.isatty():
        told: set[str] = set()

        def tell(what: str, done: int, of: int) -> None:
            if what not in told:
                told.add(what)
                typer.echo(f"{what} ({of:,})" if of > 1 else what, err=True)

        yield tell
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bars:
        bar = bars.add_task("starting", total=None)
        yield lambda what, done, of: bars.update(bar, description=what, completed=done, total=of)


def show_result(result, *, csv: bool, parquet: Path | None, json: bool) -> None:
    """Show a query's rows, or write them in the format asked for."""
    from warehouse import query_guard

    if parquet is not None:
        parquet.write_bytes(query_guard.to_parquet(result.frame))
        typer.echo(f"{result.frame.height:,} rows in {parquet}")
        return
    if csv or json:
        sys.stdout.buffer.write((query_guard.to_csv_safe if csv else query_guard.to_json)(result.frame))
        return
    import polars as pl

    with pl.Config(tbl_rows=50, tbl_cols=-1, tbl_width_chars=160, fmt_str_lengths=80, tbl_hide_dataframe_shape=True):
        typer.echo(result.frame)
    more = "; the limit was reached, there are more" if result.truncated else ""
    typer.echo(f"{result.frame.height:,} rows in {result.seconds:.2f} s{more}")
