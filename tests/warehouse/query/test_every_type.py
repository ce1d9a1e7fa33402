"""Every type that the database has comes back, and goes into a page's table, CSV, Parquet and JSON."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import duckdb
import polars as pl
import pytest

from warehouse.query import guard

EVERY = {
    "row": ("row(1, 'x')", "(1, x)"),
    "row in a row": ("row(row(1, 'x'), 2)", "((1, x), 2)"),
    "rows in a list": ("[row(1, 2)]", "[(1, 2)]"),
    "map": ("map {'a': 1}", "{a=1}"),
    "map by rows": ("map {{'k': 1}: 2}", "{{'k': 1}=2}"),
    "no map": ("null::struct(a int, b map(int, int))", ""),
    "infinity": ("'inf'::double", "inf"),
    "no number": ("'nan'::float", "NaN"),
    "infinity in a list": ("['inf'::double, 1.5]", '["inf", 1.5]'),
    "no number in a struct": ("{'x': 'nan'::double}", '{"x": "nan"}'),
    "whole number past 64 bits": ("170141183460469231731687303715884105727::hugeint", str(2**127 - 1)),
    "past 127 bits": ("340282366920938463463374607431768211455::uhugeint", str(2**128 - 1)),
    "past 64 bits in a list": ("[170141183460469231731687303715884105727::hugeint]", f"[{2**127 - 1}]"),
    "bytes": ("'\\xAA\\x00'::blob", "aa00"),
    "bytes in a list": ("['\\xAA'::blob]", '["\\\\xAA"]'),
    "union": ("union_value(num := 1)", "1"),
    "union in a list": ("[union_value(num := 1)]", "[1]"),
    "endless day": ("'infinity'::date", "infinity"),
    "day before the calendar": ("'5877642-06-25 (BC)'::date", "5877642-06-25 (BC)"),
    "endless moment in a list": ("['infinity'::timestamp]", "[infinity]"),
    "moment of a zone past the calendar": ("'infinity'::timestamptz", "infinity"),
    "word of a list": ("'it''s'::enum('it''s', 'b')", "it's"),
    "word of a list in a list": ("['a'::enum('a', 'b')]", '["a"]'),
    "interval": ("interval 1 month", "1 month"),
    "bits": ("'101'::bit", "101"),
    "time of a zone": ("'10:00:00+02'::timetz", "10:00:00+02"),
    "array": ("[[1, 2], [3, 4]]::int[2][2]", "[[1, 2], [3, 4]]"),
    "decimal": ("1.5::decimal(38, 10)", "1.5000000000"),
    "big number": ("12345678901234567890123456789012345678901::bignum", None),
    "empty list": ("[]", "[]"),
    "variant": ("1::variant", "1"),
}
SHOWN = (pl.String, pl.Boolean, pl.Date)
"""What a page's table shows beside numbers and moments."""


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a file to ask; what is asked for comes from no table of it."""
    path = tmp_path_factory.mktemp("every_type") / "any.duckdb"
    duckdb.connect(str(path)).close()
    return path


def every_way(frame: pl.DataFrame) -> list[list[str]]:
    """Take a frame away in every way; return the cells of the CSV."""
    table = guard.to_table(frame)
    assert all(kind in SHOWN or kind.is_numeric() or kind == pl.Datetime for kind in table.schema.values())
    assert table.to_arrow().to_pandas().shape == frame.shape
    assert len(json.loads(guard.to_json(frame), parse_constant=pytest.fail)) == frame.height
    assert pl.read_parquet(io.BytesIO(guard.to_parquet(frame))).shape == frame.shape
    return list(csv.reader(io.StringIO(guard.to_csv_safe(frame).decode())))


@pytest.mark.parametrize("kind", EVERY)
def test_a_value_of_any_type_is_taken_away_in_every_way(kind: str, published: Path) -> None:
    sql, wanted = EVERY[kind]
    cells = every_way(guard.run(published, f"select {sql} as a, 1 as b").frame)
    assert len(cells) == 2
    assert wanted is None or cells[1] == [wanted, "1"]


def test_whatever_types_the_database_shows_off_are_taken_away_in_every_way(published: Path) -> None:
    assert len(every_way(guard.run(published, "select * from test_all_types()").frame)) == 4


def test_no_row_of_a_nested_type_keeps_its_header(published: Path) -> None:
    assert every_way(guard.run(published, "select row(1, 2) as a, [1] as b where false").frame) == [["a", "b"]]


def test_infinity_stands_in_json_as_a_word_and_numbers_beside_it_stay_numbers(published: Path) -> None:
    frame = guard.run(published, "select unnest(['inf'::double, 1.5, null]) as a, {'x': '-inf'::double} as b").frame
    rows = json.loads(guard.to_json(frame))
    assert [row["a"] for row in rows] == ["inf", 1.5, None]
    assert rows[0]["b"] == {"x": "-inf"}


def test_a_day_outside_the_calendar_leaves_other_columns_as_they_are(published: Path) -> None:
    frame = guard.run(published, "select unnest([date '2026-01-02', 'infinity']) as a, date '2026-01-02' as b").frame
    assert frame["a"].to_list() == ["2026-01-02", "infinity"]
    assert frame["b"].dtype == pl.Date
