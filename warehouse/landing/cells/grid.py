"""A file or a sheet as lines of cells, before anybody knows which of them are shots. Not here: how one is read."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

SCHEMA = {"line": pl.Int64, "text": pl.String, "cells": pl.List(pl.String), "fault": pl.String}


@dataclass(frozen=True)
class Grid:
    """Lines of cells.

    Attributes
    ----------
    frame
        line (from 1), text (the line as written, cells of a sheet joined by tabs), cells, and fault (why the line
        cannot be read; null where it can).
    sheet
        The sheet's name; None for a file that has none.
    shown
        The same as it may be told: a name that is a student's left out.
    first_line
        What `line` counts from in the whole file: lines of the sheets before this one.
    """

    frame: pl.DataFrame
    sheet: str | None = None
    shown: str | None = None
    first_line: int = 0


def tidy(name: str) -> pl.Expr:
    """Return an expression for a list of cells as they are compared: composed accents, single blanks, none around."""
    cell = pl.element().str.normalize("NFC").str.replace_all(r"[\s\u{feff}]+", " ").str.strip_chars()
    return pl.col(name).list.eval(cell)
