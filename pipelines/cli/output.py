"""What the command shows on a terminal: progress, trials of a profile, query results. Words and widths only."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager

import typer

from warehouse.build.run import Progress


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


def show_result(result) -> None:
    """Show a query's rows."""
    import polars as pl

    with pl.Config(tbl_rows=50, tbl_cols=-1, tbl_width_chars=160, fmt_str_lengths=80, tbl_hide_dataframe_shape=True):
        typer.echo(result.frame)
    more = "; there are more: --csv, --json or --parquet write all of them" if result.truncated else ""
    typer.echo(f"{result.frame.height:,} rows in {result.seconds:.2f} s{more}")


def show_trial(trial) -> None:
    """Show what a profile makes of files: columns, units, first rows as they would load, every refusal."""
    from rich.console import Console
    from rich.table import Table

    console = Console()
    if trial.fault:
        console.print(f"The profile cannot be used: {trial.fault}", markup=False)
        return
    for file in trial.files:
        console.rule(str(file.path))
        if file.refused:
            console.print(f"refused: {file.refused}", markup=False)
            continue
        columns = Table("column", "from", "its unit", "plus is", "becomes", "found", title="Columns")
        for column in file.columns:
            columns.add_row(
                column.name, column.source, column.source_unit or "", column.positive or "", column.unit or "",
                "yes" if column.found else "no",
            )  # fmt: skip
        console.print(columns)
        if file.unused:
            console.print(f"not used: {', '.join(file.unused)}", markup=False)
        console.print(
            f"{file.rows.read:,} rows read = {file.rows.loaded:,} would load + {file.rows.rejected:,} rejected + "
            f"{file.rows.duplicate:,} exact duplicates"
        )
        show_rows(console, "First rows as they would load", file.first_rows)
        show_rows(console, "Rejected rows", file.rejected)
        for warning in file.warnings:
            console.print(f"warning: {warning}", markup=False)


def show_rows(console, title: str, rows: list[dict]) -> None:
    """Show rows as a table, or one below the other where they are too many columns; nothing where there is none."""
    from rich.table import Table
    from rich.text import Text

    if not rows:
        return
    table = Table("row", "column", "value", title=title)
    for number, row in enumerate(rows, start=1):
        for name, value in row.items():
            if value is not None:
                table.add_row(str(number), name, Text(str(value)))
        table.add_section()
    console.print(table)
