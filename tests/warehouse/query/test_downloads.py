"""Results taken away: CSV that a spreadsheet may open, Parquet and JSON."""

from __future__ import annotations

import csv
import io
import json
from datetime import date, datetime

import polars as pl
import pytest

from warehouse.query.guard import to_csv_safe, to_json, to_parquet

# OWASP, "CSV Injection" (from memory): cells that begin with = + - @ tab or carriage return are read as formulas.
FORMULAS = [
    "=1+1", "=cmd|'/C calc'!A0", "+1+1", "-1+1", "-2+3+cmd|' /C calc'!A0", "@SUM(1+1)", "\t=1+1", "\r=1+1", "\n=1+1",
    "\tplain", "\rplain", " =1+1", "\u00a0=1+1", "\ufeff=1+1", "\u200b=1+1", "=HYPERLINK(\"http://x\",\"y\")", "--1",
    "\uff1d1+1", "\uff0b1+1", "\uff0d1+1", "\uff20SUM(1)", "=", "-", "+", "@", "-1 2", "+31 6 12345678",
]  # fmt: skip
HARMLESS = ["", "a=b", "rod drill", "1", "-5", "-5.25", "+3", "-1e-3", "2024-05-06", "it's", "a;=1+1", 'say "=1"', "é"]


def cells(frame: pl.DataFrame) -> list[list[str]]:
    """Rows of the CSV as a reader of the standard library has them."""
    return list(csv.reader(io.StringIO(to_csv_safe(frame).decode(), newline="")))


@pytest.mark.parametrize("cell", FORMULAS)
def test_a_cell_that_a_spreadsheet_would_run_gets_an_apostrophe(cell: str) -> None:
    assert cells(pl.DataFrame({"note": ["first", cell]})) == [["note"], ["first"], ["'" + cell]]


@pytest.mark.parametrize("cell", HARMLESS)
def test_a_harmless_cell_is_written_as_it_is(cell: str) -> None:
    assert cells(pl.DataFrame({"note": ["first", cell]})) == [["note"], ["first"], [cell]]


def test_numbers_dates_and_nulls_are_untouched() -> None:
    frame = pl.DataFrame(
        {"angle": [-1.5, None, 2.25], "shots": [-3, 4, None], "on": [date(2024, 5, 6)] * 3, "note": ["-", None, "x"]}
    )
    assert cells(frame)[1:] == [
        ["-1.5", "-3", "2024-05-06", "'-"], ["", "4", "2024-05-06", ""], ["2.25", "", "2024-05-06", "x"]
    ]  # fmt: skip
    assert pl.read_csv(to_csv_safe(frame))["angle"].to_list() == [-1.5, None, 2.25]


def test_a_column_named_as_a_formula_is_made_inert_too() -> None:
    assert cells(pl.DataFrame({"=1+1": [1], "'=1+1": [2]}))[0] == ["'=1+1", "'=1+1_2"]


def test_text_is_quoted_so_that_no_cell_begins_at_a_semicolon() -> None:
    assert to_csv_safe(pl.DataFrame({"note": ["a;=1+1"]})) == b'"note"\n"a;=1+1"\n'


def test_nested_values_and_bytes_are_written_as_text_that_does_nothing() -> None:
    frame = pl.DataFrame({"list": [[1, 2], None], "struct": [{"a": "=1"}, {"a": None}], "bytes": [b"=1", None]})
    assert cells(frame)[1:] == [["[1, 2]", '{"a": "=1"}', "3d31"], ["", '{"a": null}', ""]]


def test_an_empty_result_keeps_its_header() -> None:
    assert cells(pl.DataFrame({"a": [], "b": []}, schema={"a": pl.Int64, "b": pl.String})) == [["a", "b"]]
    assert to_csv_safe(pl.DataFrame()).strip() == b""


def test_parquet_and_json_hold_the_same_rows() -> None:
    frame = pl.DataFrame({"id": ["01", "02"], "at": [datetime(2024, 5, 6, 7, 8), None], "carry": [180.5, None]})
    assert pl.read_parquet(to_parquet(frame)).equals(frame)
    rows = json.loads(to_json(frame))
    assert rows[0]["id"] == "01" and rows[0]["carry"] == 180.5 and rows[1]["at"] is None
    huge = pl.DataFrame({"huge": [2**100, None]}, schema={"huge": pl.Int128})
    assert pl.read_parquet(to_parquet(huge))["huge"].to_list() == [str(2**100), None]
    assert json.loads(to_json(huge))[0]["huge"] == str(2**100)
