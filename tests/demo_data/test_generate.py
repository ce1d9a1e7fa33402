"""Same seed, same bytes; what is late comes when it is delivered; the sizes asked for; the kept sample is current."""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from demo_data.academy import SAMPLE
from demo_data.generate import SAMPLE_FOLDER, SEED, deliver_late, write_academy, write_scenario

BYTES_A_MEGABYTE = 1_000_000


def contents(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in sorted(folder.rglob("*")) if p.is_file()}


def test_the_same_seed_writes_the_same_bytes(small, tmp_path):
    write_academy(tmp_path / "landing", small=True)
    assert contents(tmp_path) == contents(small.landing.parent)


def test_another_seed_writes_other_shots(small, tmp_path):
    write_academy(tmp_path / "landing", small=True, seed=7)
    one, other = contents(small.landing / "shots"), contents(tmp_path / "landing" / "shots")
    assert not any(one[path] == other[path] for path in one.keys() & other.keys() if one[path])


def test_a_landing_folder_that_holds_something_is_left_alone(tmp_path):
    (tmp_path / "kept.txt").write_text("mine")
    with pytest.raises(FileExistsError):
        write_academy(tmp_path, small=True)
    assert contents(tmp_path) == {"kept.txt": b"mine"}


def test_late_and_corrected_files_arrive_when_delivered_and_only_once(tmp_path):
    landing = tmp_path / "landing"
    summary = write_academy(landing, small=True)
    facts = pl.read_csv(tmp_path / "planted_truth" / "files.csv", infer_schema=False)
    late = facts.filter(pl.col("delivery") != "first").sort("arrives_after")
    assert set(late["delivery"]) == {"late", "corrected"} and late.height == summary.late_files
    absent = late.filter(pl.col("delivery") == "late")["path"]
    assert not any((landing / "shots" / path).exists() for path in absent)
    assert deliver_late(landing, through="2026-01-01") == []
    first_day = late["arrives_after"][0]
    early = deliver_late(landing, through=first_day)
    assert len(early) == (late["arrives_after"] == first_day).sum()
    assert len(early) + len(deliver_late(landing)) == late.height
    assert all((landing / "shots" / path).stat().st_size > 0 for path in late["path"])
    assert deliver_late(landing) == []


def test_a_corrected_export_differs_from_the_first(tmp_path):
    landing = tmp_path / "landing"
    write_academy(landing, small=True)
    before = contents(landing / "shots")
    corrected = [str(p.relative_to(landing / "shots")) for p in deliver_late(landing)]
    again = [path for path in corrected if path in before]
    assert again and all((landing / "shots" / path).read_bytes() != before[path] for path in again)


def test_the_full_academy_has_the_sizes_it_promises(full):
    assert full.table("sites").height == 2 and full.table("sites")["timezone"].n_unique() == 2
    assert full.table("bays").height == 24 and full.table("coaches").height == 7 and full.table("drills").height == 12
    assert full.table("students").height == 160
    nights = {p.name for p in (full.landing / "shots").iterdir()}
    assert (min(nights), max(nights), len(nights)) == ("2026-01-05", "2026-04-12", 98)
    final = full.truth("files").group_by("path").agg(pl.col("rows_loaded").last())
    assert 280_000 < final["rows_loaded"].sum() < 320_000


def test_about_half_of_the_booked_hours_have_a_drill_and_most_shots_are_booked(full):
    sessions, logged = full.truth("sessions"), full.table("drill_log")["lesson_id"].unique()
    booked = sessions.filter(pl.col("kind").is_in(["coached", "own practice"]))
    assert 0.4 < booked["lesson_id"].is_in(logged.to_list()).mean() < 0.75
    assert 0.35 < len(logged) / sessions.filter(pl.col("kind") != "guest").height < 0.6
    assert booked["shots"].sum() / sessions["shots"].sum() > 0.65
    without = booked.filter((pl.col("kind") == "coached") & ~pl.col("lesson_id").is_in(logged.to_list()))
    assert without.height > 500


def test_the_kept_sample_is_what_the_code_writes_today(tmp_path):
    write_scenario(tmp_path / "landing", SAMPLE, SEED)
    now, kept = contents(tmp_path), contents(SAMPLE_FOLDER)
    kept.pop("README.md", None)
    assert now.keys() == kept.keys()
    for path, content in now.items():
        if path.endswith(".parquet"):  # another writer version may compress otherwise
            assert_frame_equal(pl.read_parquet(tmp_path / path), pl.read_parquet(SAMPLE_FOLDER / path))
        else:
            assert content == kept[path], path


def test_the_kept_sample_is_small_and_has_every_format():
    kept = contents(SAMPLE_FOLDER)
    assert sum(map(len, kept.values())) < BYTES_A_MEGABYTE
    endings = {path.split(".", 1)[1] for path in kept if path.startswith("landing/shots")}
    assert endings == {"csv", "tsv", "csv.gz", "parquet", "jsonl"}
