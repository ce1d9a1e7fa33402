"""Any bytes under an export's name: never an error, every row accounted for, the neighbours as if alone."""

from __future__ import annotations

import gzip
import io
import json

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.fuzz.conftest import COLUMNS, NAMES, ROWS, Tried, csv_bytes
from tests.fuzz.damage import CUT, EDITS, Edits, damaged, many

ENCODINGS = ("utf-8", "utf-8-sig", "ascii", "latin-1", "cp1252", "utf-16", "utf-16-le", "utf-32", "gbk", "shift_jis",
             "big5", "koi8-r", "mac_roman", "euc_jp")  # fmt: skip
SHAPES = st.fixed_dictionaries(
    {
        "encoding": st.sampled_from(ENCODINGS),
        "delimiter": st.sampled_from([",", ";", "\t", "||", " ", "|"]),
        "decimal": st.just("."),
        "skip_rows": st.sampled_from([0, 0, 0, 1, 3]),
        "nulls": st.sampled_from([[""], ["", "-", "n/a"], ["nan"], ["'"]]),
        "timezone": st.sampled_from(["site", "UTC", "Asia/Kolkata"]),
    }
)


def json_bytes() -> bytes:
    return "".join(json.dumps(dict(zip(NAMES, row, strict=True))) + "\n" for row in ROWS).encode()


def parquet_bytes() -> bytes:
    out = io.BytesIO()
    pl.DataFrame([dict(zip(NAMES, row, strict=True)) for row in ROWS]).write_parquet(out)
    return out.getvalue()


SOUND = {"csv": csv_bytes(), "jsonl": json_bytes(), "parquet": parquet_bytes()}


@many()
@given(form=st.sampled_from(["csv", "jsonl"]), edits=EDITS, cut=CUT, packed=st.booleans(), after=EDITS)
def test_damaged_text_is_loaded_row_by_row_or_refused(
    tried: Tried, form: str, edits: Edits, cut: float | None, packed: bool, after: Edits
) -> None:
    tried.reset()
    tried.profile("tried", f'[file]\nformat = "{form}"\n' + COLUMNS)
    content = damaged(SOUND[form], edits, cut)
    if packed:
        content = damaged(gzip.compress(content, 1), after)
    tried.shots(f"01.{form}.gz" if packed else f"01.{form}", content)
    tried.load()
    tried.assert_accounted()


@many()
@given(edits=EDITS, cut=CUT)
def test_a_damaged_parquet_file_is_loaded_or_refused(tried: Tried, edits: Edits, cut: float | None) -> None:
    tried.reset()
    tried.profile("tried", '[file]\nformat = "parquet"\n' + COLUMNS)
    tried.shots("01.parquet", damaged(SOUND["parquet"], edits, cut))
    tried.load()
    tried.assert_accounted()


@many()
@given(shape=SHAPES, written_as=st.sampled_from(ENCODINGS), edits=EDITS)
def test_any_encoding_and_shape_is_read_by_any_profile(
    tried: Tried, shape: dict, written_as: str, edits: Edits
) -> None:
    tried.reset()
    tried.profile("tried", "[file]\n" + "".join(f"{key} = {json.dumps(value)}\n" for key, value in shape.items())
                  + COLUMNS)  # fmt: skip
    content = "skipped\n" * shape["skip_rows"] + csv_bytes(shape["delimiter"]).decode()
    tried.shots("01.csv", damaged(content.encode(written_as), edits))
    tried.load()
    tried.assert_accounted()


@many()
@given(content=st.binary(max_size=300), name=st.sampled_from(["01.csv", "01.csv.gz", "01.jsonl", "01.parquet", "01.x"]))
def test_bytes_that_are_no_export_at_all_are_refused_or_rejected(tried: Tried, content: bytes, name: str) -> None:
    tried.reset()
    form = "csv" if "csv" in name else name.split(".")[1].replace("x", "csv")
    tried.profile("tried", f'[file]\nformat = "{form}"\n' + COLUMNS)
    tried.shots(name, content)
    tried.load()
    tried.assert_accounted()
    assert tried.rows("select count(*) from raw.export_file where path like '%/01.%' and rows_loaded = 0") == [(1,)]


CELLS = st.sampled_from(
    [None, True, False, 0, 12, -1, 1.5, "", " ", "x", "12", "1e999", "\ud800", "\x00", "driver", [1], {"a": 1},
     10**400, "2024-02-19T10:00:00", "2024-02-19", 1708336800]
)  # fmt: skip


@many()
@given(rows=st.lists(st.dictionaries(st.sampled_from([*NAMES, "\ud800", "", "a\nb"]), CELLS, max_size=8), max_size=5))
def test_any_value_under_any_key_of_a_json_line_is_loaded_or_rejected(tried: Tried, rows: list[dict]) -> None:
    tried.reset()
    tried.profile("tried", '[file]\nformat = "jsonl"\n' + COLUMNS)
    tried.shots("01.jsonl", "".join(json.dumps(row) + "\n" for row in rows).encode())
    tried.load()
    tried.assert_accounted()


PARQUET_TYPES = (
    pl.Int8, pl.UInt64, pl.Float32, pl.Float64, pl.Boolean, pl.String, pl.Binary, pl.Date, pl.Time, pl.Datetime("ns"),
    pl.Datetime("us", "UTC"), pl.Duration, pl.List(pl.Int8), pl.Decimal(20, 4), pl.Null, pl.Struct({"a": pl.Int8}),
)  # fmt: skip


@many()
@given(types=st.lists(st.sampled_from(PARQUET_TYPES), min_size=len(NAMES), max_size=len(NAMES)))
def test_parquet_columns_of_any_type_are_loaded_or_refused(tried: Tried, types: list) -> None:
    tried.reset()
    tried.profile("tried", '[file]\nformat = "parquet"\n' + COLUMNS)
    out = io.BytesIO()
    values = {pl.List(pl.Int8): [1], pl.Struct({"a": pl.Int8}): {"a": 1}, pl.String: "x", pl.Binary: b"\xff"}
    pl.DataFrame(
        [pl.Series(name, [values.get(kind), None], dtype=kind) for name, kind in zip(NAMES, types, strict=True)]
    ).write_parquet(out)
    tried.shots("01.parquet", out.getvalue())
    tried.load()
    tried.assert_accounted()


@pytest.mark.parametrize("name", ["01[2].csv", "0?.csv", "*.csv", "01{2,3}.csv", "ab%20c.csv", "é.csv"])
def test_a_file_name_that_could_be_a_pattern_names_one_file(tried: Tried, name: str) -> None:
    tried.reset()
    bay = name.removesuffix(".csv")
    tried.con.execute("insert into raw.bay select ?, * exclude (bay_id) from raw.bay where bay_id = '02'", [bay])
    try:
        tried.shots(name, csv_bytes())
        tried.load()
        assert tried.rows("select count(*) from raw.shot where bay_id not in ('02', '03')") == [(len(ROWS),)]
        tried.assert_accounted()
    finally:
        tried.con.execute("delete from raw.bay where bay_id = ?", [bay])


def test_a_file_name_that_is_no_text_is_told_and_stops_nobody(tried: Tried) -> None:
    tried.reset()
    tried.shots("0\udcff.csv", csv_bytes())
    summary = tried.load()
    assert any("is no text" in warning for warning in summary.warnings)
    tried.assert_accounted()
