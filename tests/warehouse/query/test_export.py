"""Exports are whole, whatever their size; a cut is said; a query that fails half way writes nothing."""

from __future__ import annotations

import csv
import io
import json
import tracemalloc
from pathlib import Path

import duckdb
import polars as pl
import pytest

from warehouse.query.export import Form, export
from warehouse.query.guard import QueryRefused
from warehouse.settings.limits import Exports

LIMITS = Exports()
MANY = 250_000


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file with one table."""
    path = tmp_path_factory.mktemp("published") / "p.duckdb"
    with duckdb.connect(path) as con:
        con.execute("create schema mart")
        con.execute(
            f"create table mart.shot as select i, i::hugeint as huge, 'name ' || i as name, [i, 1] as list, "
            f"case when i % 2 = 0 then 'even' else '=odd' end::varchar as kind from range({MANY}) as r(i)"
        )
    return path


def written(published: Path, sql: str, form: Form, limits: Exports = LIMITS) -> tuple[bytes, object]:
    """Return what was written, and the word on it."""
    held = io.BytesIO()
    done = export(published, sql, held, form, limits)
    return held.getvalue(), done


def test_every_row_past_ten_thousand_is_written_in_each_form(published: Path) -> None:
    sql = "select * from mart.shot order by i"
    rows = list(csv.reader(io.StringIO(written(published, sql, Form.CSV)[0].decode(), newline="")))
    assert (len(rows), rows[0], rows[-1][:3]) == (
        MANY + 1, ["i", "huge", "name", "list", "kind"], [str(MANY - 1), str(MANY - 1), f"name {MANY - 1}"]
    )  # fmt: skip
    assert {row[4] for row in rows[1:]} == {"even", "'=odd"}
    told = json.loads(written(published, sql, Form.JSON)[0])
    assert (len(told), told[-1]["huge"], told[-1]["list"]) == (MANY, MANY - 1, [MANY - 1, 1])
    frame = pl.read_parquet(written(published, sql, Form.PARQUET)[0])
    assert (frame.height, frame["i"].to_list()[-1], frame["huge"].dtype) == (MANY, MANY - 1, pl.Int64)
    assert frame["i"].is_sorted()


def test_a_cut_is_told_with_how_much_was_written_and_the_setting(published: Path) -> None:
    limits = Exports(rows=120_000)
    content, done = written(published, "select i from mart.shot", Form.CSV, limits)
    assert content.count(b"\n") == 120_001
    said = done.in_words(limits)
    assert "120,000 rows were written and there are more" in said and "exports.rows" in said
    small = Exports(megabytes=1)
    content, done = written(published, "select i, name from mart.shot", Form.JSON, small)
    assert 0 < len(json.loads(content)) == done.rows < MANY
    assert "1 MB" in done.in_words(small)
    assert written(published, "select i from mart.shot", Form.CSV)[1].in_words(LIMITS) is None


@pytest.mark.parametrize("form", Form)
def test_no_rows_are_a_header_and_no_more(published: Path, form: Form) -> None:
    content, done = written(published, "select i, name from mart.shot where i < 0", form)
    assert done.rows == 0
    if form is Form.CSV:
        assert content == b'"i","name"\n'
    elif form is Form.JSON:
        assert json.loads(content) == []
    else:
        assert pl.read_parquet(content).columns == ["i", "name"]


def test_a_number_past_64_bits_late_in_the_rows_is_the_same_type_in_all(published: Path) -> None:
    sql = f"select case when i = {MANY - 1} then 2::hugeint ** 100 else i end::hugeint as n from mart.shot order by i"
    frame = pl.read_parquet(written(published, sql, Form.PARQUET)[0])
    assert frame["n"].dtype == pl.String and frame["n"].to_list()[-1] == str(2**100)


def test_a_query_that_fails_half_way_writes_nothing(published: Path) -> None:
    held = io.BytesIO()
    sql = f"select case when i = {MANY - 1} then error('late') else i::varchar end as x from mart.shot"
    with pytest.raises(QueryRefused, match="late"):
        export(published, sql, held, Form.CSV, LIMITS)
    assert held.getvalue() == b""


def test_what_is_refused_on_a_page_is_refused_here(published: Path) -> None:
    for sql in ("select * from read_csv('/etc/passwd')", "drop table mart.shot", "select getenv('HOME')"):
        with pytest.raises(QueryRefused):
            written(published, sql, Form.CSV)
    with pytest.raises(QueryRefused, match="longer than 1 s"):
        written(published, "select count(*) from range(100000000000) as r(i) where i % 7 = 3", Form.CSV,
                Exports(seconds=1))  # fmt: skip


def test_rows_are_not_all_held_in_memory(published: Path) -> None:
    sql = "select a.i, repeat('x', 100) as text from mart.shot as a cross join range(4)"
    with (published.parent / "out.csv").open("wb") as to:
        tracemalloc.start()
        export(published, sql, to, Form.CSV, LIMITS)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert to.tell() > 100_000_000
    assert peak < 60_000_000
