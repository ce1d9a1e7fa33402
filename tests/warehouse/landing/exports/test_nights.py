"""What happens to a bay's night when files come again, late, corrected, twice, broken, or go away."""

from __future__ import annotations

import os
from pathlib import Path

import duckdb

from tests.warehouse.landing.conftest import HEADER, NIGHT, PLAIN, Academy, shot
from warehouse.landing.exports import load
from warehouse.landing.reference import load as reference

STATUS = "select path, status, rows_loaded, latest, in_force from raw.export_file order by path, latest"


def test_the_same_content_twice_changes_nothing_and_its_new_time_is_remembered(academy: Academy) -> None:
    path = academy.export("01.csv", HEADER + shot(1))
    academy.night()
    before = academy.rows("select * exclude (modified_ns) from raw.export_file")
    academy.export("01.csv", HEADER + shot(1))
    arrivals = load.changed(academy.con, academy.landing)
    assert (len(arrivals), [file.path for file in arrivals.restated]) == (0, [path])
    summary = academy.night()
    assert (summary.outcomes, summary.nights) == ([], set())
    assert academy.rows("select * exclude (modified_ns) from raw.export_file") == before
    assert load.changed(academy.con, academy.landing).restated == []


def test_a_late_file_is_added_and_a_corrected_one_replaces_its_bays_night(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1) + shot(2, ball="x"))
    academy.night()
    late = academy.export("02.csv", HEADER + shot(1))
    corrected = academy.export("01.csv", HEADER + shot(3) + shot(4) + shot(5))
    summary = academy.night()
    assert sorted(outcome.file.path for outcome in summary.outcomes) == [corrected, late]
    assert [str(night) for night in summary.nights] == [NIGHT]
    assert academy.rows("select bay_id, count(*) from raw.shot group by all order by all") == [("01", 3), ("02", 1)]
    assert academy.faults() == []
    assert academy.rows(STATUS) == [(corrected, "loaded", 3, True, True), (late, "loaded", 1, True, True)]


def test_a_corrected_file_of_the_same_size_and_time_order_is_found_by_its_content(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1, ball=60))
    academy.night()
    academy.export("01.csv", HEADER + shot(1, ball=61))
    academy.night()
    assert academy.rows("select ball_speed from raw.shot") == [(61.0,)]


def test_a_refused_second_export_keeps_the_last_good_one(academy: Academy) -> None:
    path = academy.export("01.csv", HEADER + shot(1) + shot(2, ball="x"))
    academy.night()
    academy.export("01.csv", "")
    summary = academy.night()
    assert academy.rows("select line from raw.shot") == [(2,)]
    assert len(academy.faults()) == 1
    assert academy.rows(STATUS) == [(path, "loaded", 1, False, True), (path, "refused", 0, True, False)]
    assert any("what was loaded from it before stays" in warning for warning in summary.warnings)
    assert academy.night().outcomes == []


def test_a_good_third_export_settles_a_refused_second_one(academy: Academy) -> None:
    path = academy.export("01.csv", HEADER + shot(1))
    academy.night()
    academy.export("01.csv", "")
    academy.night()
    academy.export("01.csv", HEADER + shot(1) + shot(2))
    academy.night()
    assert academy.rows(STATUS) == [(path, "loaded", 2, True, True)]


def test_a_removed_file_keeps_what_was_loaded_and_is_told_of(academy: Academy) -> None:
    path = academy.export("01.csv", HEADER + shot(1))
    academy.night()
    (academy.landing / "shots" / path).unlink()
    summary = academy.night()
    assert [line for line in summary.warnings if f"shots/{path} is no longer in the landing folder" in line]
    assert academy.rows("select count(*) from raw.shot") == [(1,)]


def test_a_removed_refused_file_is_forgotten(academy: Academy) -> None:
    path = academy.export("01.csv", "")
    academy.night()
    (academy.landing / "shots" / path).unlink()
    academy.night()
    assert academy.rows("select count(*) from raw.export_file") == [(0,)]


def test_an_edited_profile_reads_its_files_again(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1, carry=100))
    academy.night()
    academy.profile("plain", "# a remark changes nothing\n" + PLAIN)
    assert len(load.changed(academy.con, academy.landing)) == 0
    academy.profile("plain", PLAIN.replace('"carry", unit = "m"', '"carry", unit = "yd"'))
    academy.night()
    (carry,) = academy.rows("select carry from raw.shot")[0]
    assert abs(carry - 91.44) < 1e-12


def test_a_bay_that_becomes_known_has_its_refused_files_read(academy: Academy) -> None:
    academy.export("03.csv", HEADER + shot(1))
    assert academy.night().refused == 1
    assert academy.night().outcomes == []
    bays = (academy.landing / "academy" / "bays.csv").read_text()
    academy.table("bays", bays + "03,N,plain,indoor,range\n")
    assert academy.night().rows_loaded == 1


def test_a_site_in_another_zone_has_its_files_read_again(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1))
    academy.night()
    academy.table("sites", "site_id,name,timezone,altitude_m\nN,North,Asia/Tokyo,12\n")
    academy.night()
    assert academy.rows("select struck_at::varchar from raw.shot") == [("2024-02-19 01:00:01",)]


def test_a_column_that_may_be_absent_is_null_with_a_warning(academy: Academy) -> None:
    academy.profile("plain", PLAIN.replace(', unit = "m", optional = true', ', unit = "m"'))
    academy.export("01.csv", "time,club,ball,launch\n2024-02-19T10:00:00,driver,60,12\n")
    summary = academy.night()
    assert academy.rows("select carry, student_id from raw.shot") == [(None, None)]
    assert [warning for warning in summary.warnings if "no column 'carry' in the header" in warning]


def test_what_is_no_export_is_told_of_and_left_alone(academy: Academy) -> None:
    academy.export("01.csv.part", HEADER + shot(1))
    academy.export("notes.csv", "x", night="2024-2-19")
    summary = academy.night()
    assert summary.outcomes == []
    assert len(summary.warnings) == 2


def test_small_batches_load_the_same_as_one(academy: Academy) -> None:
    for night in ("2024-02-19", "2024-02-20", "2024-02-21"):
        body = "".join(shot(n).replace("2024-02-19", night) for n in range(20))
        academy.export("01.csv", HEADER + body, night=night)
        academy.export("02.csv", HEADER + (body + body).replace(",60,", ",61,"), night=night)
    summary = academy.night(batch_bytes=100)
    assert (summary.rows("read"), summary.rows("loaded"), summary.rows("duplicate")) == (180, 120, 60)
    assert academy.rows("select count(*), count(distinct (path, line)) from raw.shot") == [(120, 120)]


def test_a_load_writes_to_an_attached_raw_database_alone(academy: Academy, tmp_path: Path) -> None:
    academy.export("01.csv", HEADER + shot(1) + shot(2, ball="x"))
    with duckdb.connect(tmp_path / "main.duckdb") as con:
        con.execute(f"attach '{tmp_path / 'raw.duckdb'}' as raw")
        load.create_tables(con)
        reference.load(con, academy.landing)
        summary = load.load(con, academy.landing, load.changed(con, academy.landing))
        assert (summary.rows("loaded"), summary.rows("rejected")) == (1, 1)
        assert con.execute("select count(*) from duckdb_tables() where database_name = 'main'").fetchall() == [(0,)]


def test_an_unreadable_time_of_change_alone_reads_nothing_again(academy: Academy) -> None:
    path = academy.export("01.csv", HEADER + shot(1))
    academy.night()
    os.utime(academy.landing / "shots" / path, (1, 1))
    assert len(load.changed(academy.con, academy.landing)) == 0
