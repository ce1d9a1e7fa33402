"""Files made to hurt: links that lead out, files that never end, bombs, lines without end."""

from __future__ import annotations

import gzip
import os
from pathlib import Path

import polars as pl
import pytest

from tests.fuzz.conftest import COLUMNS, NIGHT, TABLES, Tried, csv_bytes
from warehouse.landing.reference import load
from warehouse.landing.reference.load import ReferenceTablesError
from warehouse.settings.settings import Limits


def refused(tried: Tried, name: str, **arguments: object) -> str:
    (outcome,) = [one for one in tried.load(**arguments).outcomes if one.file.path == f"{NIGHT}/{name}"]
    tried.assert_accounted()
    assert outcome.status == "refused"
    return str(outcome.reason)


@pytest.fixture
def night(tried: Tried) -> Path:
    tried.reset()
    tried.profile("tried", COLUMNS)
    return tried.landing / "shots" / NIGHT


@pytest.mark.parametrize("target", ["/dev/zero", "/etc/passwd", "../../../../elsewhere.csv", "/proc/self/mem"])
def test_a_link_that_leads_out_is_refused_without_a_byte_read(tried: Tried, night: Path, target: str) -> None:
    (tried.folder.parent / "elsewhere.csv").write_bytes(csv_bytes())
    (night / "01.csv").symlink_to(target)
    assert "leads out of the landing folder" in refused(tried, "01.csv")
    assert tried.rows("select content_hash from raw.export_file where bay_id = '01'") == [("",)]


def test_a_link_that_leads_to_itself_or_nowhere_is_refused(tried: Tried, night: Path) -> None:
    (night / "01.csv").symlink_to("01.csv")
    assert "cannot be read" in refused(tried, "01.csv")
    (night / "01.csv").unlink()
    (night / "01.csv").symlink_to("gone.csv")
    assert "cannot be read" in refused(tried, "01.csv")


def test_a_pipe_under_an_export_s_name_is_refused_and_not_waited_for(tried: Tried, night: Path) -> None:
    os.mkfifo(night / "01.csv")
    assert "is no plain file" in refused(tried, "01.csv")


def test_a_night_s_folder_that_leads_out_gives_refused_files_only(tried: Tried, night: Path) -> None:
    outside = tried.folder / "outside"
    tried.write(outside / "01.csv", csv_bytes())
    (night.parent / "2024-02-20").symlink_to(outside)
    (outcome,) = [one for one in tried.load().outcomes if one.file.path == "2024-02-20/01.csv"]
    assert "leads out of the landing folder" in str(outcome.reason)


def test_a_packed_bomb_is_refused(tried: Tried, night: Path) -> None:
    tried.shots("01.csv.gz", gzip.compress(csv_bytes() + b"\n" * 60_000_000))
    assert "grows more than 200-fold" in refused(tried, "01.csv.gz")


def test_a_bomb_inside_a_bomb_is_not_unpacked_twice(tried: Tried, night: Path) -> None:
    tried.shots("01.csv.gz", gzip.compress(gzip.compress(b"\n" * 60_000_000)))
    assert "no column" in refused(tried, "01.csv.gz")


def test_a_parquet_bomb_is_refused_by_what_it_says_of_itself(tried: Tried, night: Path, tmp_path: Path) -> None:
    tried.profile("tried", '[file]\nformat = "parquet"\n' + COLUMNS)
    one = pl.DataFrame({"time": "2024-02-19T10:00:00", "club": "driver", "ball": 60, "launch": 12})
    one.select(pl.all().repeat_by(4_000_000).explode()).write_parquet(night / "01.parquet")
    assert (night / "01.parquet").stat().st_size < 2_000_000
    assert "larger than 100 megabytes (unpacked)" in refused(tried, "01.parquet", limits=Limits(file_megabytes=100))
    assert "grows more than 50-fold" in refused(tried, "01.parquet", limits=Limits(compression_ratio=50))


def test_a_file_far_over_the_limit_is_refused_without_reading_it_all(tried: Tried, night: Path) -> None:
    with (night / "01.csv").open("wb") as file:
        file.write(csv_bytes())
        file.truncate(2_000_000_000_000)
    assert "larger than" in refused(tried, "01.csv")


def test_lines_over_the_limit_are_rejected_and_their_neighbours_load(tried: Tried, night: Path) -> None:
    lines = csv_bytes().splitlines(keepends=True)
    tried.shots("01.csv", b"".join([*lines[:3], b"y" * 3_000_000 + b"\n", *lines[3:]]))
    tried.load()
    tried.assert_accounted()
    assert tried.rows("select line, reason from raw.rejected_row") == [(4, "unparsable")]
    assert tried.rows("select count(*) from raw.shot where bay_id = '01'") == [(6,)]


def test_json_nested_beyond_measure_is_a_rejected_line(tried: Tried, night: Path) -> None:
    tried.profile("tried", '[file]\nformat = "jsonl"\n' + COLUMNS)
    sound = b'{"time": "2024-02-19T10:00:00", "club": "driver", "ball": 60, "launch": 12}\n'
    others = [sound.replace(b"60", str(61 + n).encode()) for n in range(2)]
    tried.shots("01.jsonl", b"[" * 60_000 + b"\n" + b'{"a":' * 12_000 + b"\n" + b"".join([sound, *others]))
    tried.load()
    tried.assert_accounted()
    assert tried.rows("select rows_read, rows_loaded from raw.export_file where bay_id = '01'") == [(5, 3)]


@pytest.mark.parametrize("name", ["students", "events"])
def test_a_reference_table_that_is_a_link_out_or_a_folder_is_a_fault(tried: Tried, name: str) -> None:
    path = tried.landing / "academy" / f"{name}.csv"
    try:
        path.unlink()
        path.symlink_to("/etc/passwd")
        with pytest.raises(ReferenceTablesError, match="leads out of the landing folder") as raised:
            load.load(tried.con, tried.landing)
        assert "root:" not in str(raised.value)
        path.unlink()
        path.mkdir()
        with pytest.raises(ReferenceTablesError, match="is no plain file"):
            load.load(tried.con, tried.landing)
        path.rmdir()
    finally:
        tried.write(path, TABLES[name].encode())


@pytest.mark.parametrize("name", ["../../outside", "/etc/passwd", "a\x00b", "x" * 300, "."])
def test_a_profile_s_name_that_leads_out_refuses_only_its_bay(tried: Tried, night: Path, name: str) -> None:
    tried.write(tried.folder / "outside.toml", COLUMNS.encode())
    tried.con.execute("update raw.bay set export_profile = ? where bay_id = '01'", [name])
    try:
        tried.shots("01.csv", csv_bytes())
        assert "profiles/" in refused(tried, "01.csv")
    finally:
        tried.con.execute("update raw.bay set export_profile = 'tried' where bay_id = '01'")
