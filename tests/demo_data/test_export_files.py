"""Every export is read by its own profile alone, holds what the truth says, and the six kinds differ as promised."""

from __future__ import annotations

import gzip
import tomllib
import zlib

import polars as pl
import pytest

from warehouse.schema.metrics import CLUBS, MEASURED, METRIC

REQUIRED = {"struck_at", "club", "ball_speed", "launch_angle"}


@pytest.fixture(scope="module")
def profiles(full):
    return {p.stem: tomllib.loads(p.read_text(encoding="utf-8")) for p in (full.landing / "profiles").iterdir()}


def test_profiles_name_only_agreed_columns_units_and_clubs(profiles):
    for name, profile in profiles.items():
        columns = profile["columns"]
        assert profile["name"] == name and columns.keys() >= REQUIRED
        assert columns.keys() <= {"struck_at", "student_id", "club"} | {m.name for m in MEASURED}
        assert set(columns["club"].get("map", {}).values()) <= set(CLUBS)
        headers = [source["from"] for source in columns.values()]
        assert len(set(headers)) == len(headers)


def test_six_profiles_differ_in_format_mark_clock_unit_and_sign(profiles):
    assert len(profiles) == 6
    files = [profile["file"] for profile in profiles.values()]
    assert {f["format"] for f in files} == {"csv", "parquet", "jsonl"}
    assert {f.get("delimiter") for f in files} == {";", ",", "\t", None}
    assert {"latin-1", "utf-8"} <= {f.get("encoding") for f in files} and "," in {f.get("decimal") for f in files}
    assert {f["timezone"] for f in files} == {"site", "UTC", "Europe/Helsinki"}
    sources = [source for profile in profiles.values() for source in profile["columns"].values()]
    assert {"km/h", "mph", "m/s", "ft/s", "m", "yd", "mm", "cm", "in"} <= {s.get("unit") for s in sources}
    assert {"left", "down", "heel", "low"} <= {s.get("positive") for s in sources}
    assert sum("club_speed" not in p["columns"] for p in profiles.values()) == 1
    assert sum("spin_rate" not in p["columns"] for p in profiles.values()) == 1
    assert sum("%p" in f.get("timestamp_format", "") for f in files) == 1
    assert max(f.get("skip_rows", 0) for f in files) == 2


def test_every_sound_file_holds_the_rows_the_truth_says(small):
    told = {row["path"]: row for row in small.truth("files").filter(pl.col("delivery") == "first").to_dicts()}
    for path in small.sound_files():
        fact, shots = told[f"{path.parent.name}/{path.name}"], small.shots(path)
        assert shots.height == fact["rows_read"], path
        assert shots["club"].is_in(list(CLUBS)).not_().sum() == fact["rejected_unknown_club"]
        other_night = shots["struck_at"].dt.to_string("%Y-%m-%d") != path.parent.name
        assert other_night.sum() == fact["rejected_outside_its_night"]
        assert shots["ball_speed"].null_count() == fact["rejected_missing"]
        assert (shots["ball_speed"] > METRIC["ball_speed"].high).sum() == fact["rejected_outside_limits"]
        rows = small.rows(path)
        assert rows.height - rows.unique().height == fact["rows_duplicate"]
        assert rows.select(pl.any_horizontal(pl.all() == "#?").sum()).item() == fact["rejected_unparsable"]


def test_rows_without_a_fault_lie_inside_the_limits(full_shots):
    for metric in MEASURED:
        low, high = full_shots[metric.name].min(), full_shots[metric.name].max()
        assert metric.low <= low < high <= metric.high, metric.name


def test_every_kind_of_row_fault_and_duplicates_are_there(full):
    files = full.truth("files")
    for kind in ("unparsable", "missing", "outside_limits", "outside_its_night", "unknown_club"):
        assert files[f"rejected_{kind}"].sum() >= 5, kind
    assert files["rows_duplicate"].sum() >= 20
    refused = files.filter(pl.col("refused").is_not_null())
    assert set(refused["refused"]) == {"compression ends early", "empty", "a required column is absent", "unknown bay"}
    counted = pl.sum_horizontal("rows_loaded", "rows_duplicate", pl.col("^rejected_.*$"))
    assert files.select((counted == pl.col("rows_read")).all()).item()


def test_files_meant_to_be_refused_really_are_broken(full):
    refused = full.truth("files").filter(pl.col("refused").is_not_null())
    for path, reason in refused.select("path", "refused").rows():
        file = full.landing / "shots" / path
        if reason == "empty":
            assert file.stat().st_size == 0
        elif reason == "compression ends early":
            with pytest.raises((EOFError, zlib.error)):
                gzip.decompress(file.read_bytes())
        elif reason == "unknown bay":
            assert file.name.split(".")[0] not in full.table("bays")["bay_id"].to_list()
        else:
            needed = {full.profile(file.name[:2])["columns"][c]["from"] for c in REQUIRED}
            assert not needed <= set(full.rows(file).columns)


def test_one_file_begins_with_a_byte_order_mark_and_loads_all_the_same(full):
    marked = [p for p in full.sound_files() if p.read_bytes()[:3] == b"\xef\xbb\xbf"]
    assert len(marked) == 1 and full.shots(marked[0]).height >= 40


def test_nobody_is_named_in_bays_without_a_student_column(full, full_shots):
    silent = full.table("bays").filter(pl.col("export_profile") == "enseada")["bay_id"].to_list()
    there = full_shots.filter(pl.col("bay_id").is_in(silent))
    assert there.height > 10_000 and there["student_id"].null_count() == there.height
    walked_in = full.truth("sessions").filter(pl.col("kind").is_in(["walk-in", "guest"]))
    assert not walked_in["bay_id"].is_in(silent).any()
