"""A bay's night in several files is merged, and a shot counted once: in files of one bay, and of two."""

from __future__ import annotations

import pytest

from tests.warehouse.landing.conftest import HEADER, NIGHT, PLAIN, Academy, shot
from tests.warehouse.landing.exports.test_whole_files import decide, good
from warehouse.landing.exports import decisions
from warehouse.landing.exports.file_names import BayNames

COUNTS = (
    "select split_part(path, '/', 2), status, rows_read, rows_loaded, rows_rejected, rows_duplicate, rows_set_aside "
    "from raw.export_file where latest order by all"
)
ONCE = "select count(*), count(distinct struck_at) from raw.shot"


@pytest.mark.parametrize(
    ("stem", "bay"),
    [
        ("B01", "B01"), ("B01.2", "B01"), ("B01.morning", "B01"), ("B01-morning", "B01"), ("B01_2", "B01"),
        ("B01 (2)", "B01"), ("B01-2", "B01-2"), ("B01-2.late", "B01-2"), ("B011", "B011"), ("B99.2", "B99.2"),
        ("B01-gone", "B01-gone"), ("B01-gone.2", "B01-gone"),
    ],
)  # fmt: skip
def test_a_file_is_of_the_longest_bay_that_its_name_begins_with(stem: str, bay: str) -> None:
    assert BayNames({"B01", "B01-2"}, lambda: {"B01-gone"}).bay_of(stem) == bay


def test_a_bay_taken_out_of_the_table_does_not_give_its_files_to_another(academy: Academy) -> None:
    bays = (academy.landing / "academy" / "bays.csv").read_text()
    academy.table("bays", bays + "01-A,N,plain,indoor,range\n")
    academy.export("01-A.csv", good(5))
    academy.night()
    academy.table("bays", bays)
    path = academy.export("01-A.csv", good(9))
    (warning,) = academy.night().warnings
    assert f"shots/{path} refused: bay '01-A' is not in bays.csv" in warning


def test_a_session_each_in_two_files_is_merged(academy: Academy) -> None:
    academy.export("01.csv", good(20))
    academy.export("01.evening.csv", good(21, first=20))
    summary = academy.night()
    assert (summary.warnings, academy.rows(ONCE)) == ([], [(41, 41)])
    assert academy.rows(COUNTS) == [
        ("01.csv", "loaded", 20, 20, 0, 0, 0), ("01.evening.csv", "loaded", 21, 21, 0, 0, 0)
    ]  # fmt: skip


@pytest.mark.parametrize("together", [True, False])
def test_the_same_shots_in_two_files_are_counted_once_and_told(academy: Academy, together: bool) -> None:
    academy.export("01.csv", good(30) + shot(995, ball="x"))
    if not together:
        academy.night()
    academy.export("01.2.csv", good(30, first=20) + shot(490, ball=50 + 49 % 20))
    summary = academy.night()
    assert academy.rows(ONCE) == [(50, 50)]
    assert academy.rows(COUNTS) == [
        ("01.2.csv", "loaded", 31, 30, 0, 1, 0), ("01.csv", "loaded", 31, 20, 1, 10, 0)
    ]  # fmt: skip
    said = f"shots/{NIGHT}/01.csv: 10 of its shots stand in shots/{NIGHT}/01.2.csv too, and are counted there"
    assert said in summary.warnings
    assert academy.rows("select reason from raw.export_file where rows_read = 31 and rows_rejected = 1") == [
        (said.split(": ", 1)[1],)
    ]


def test_an_export_saved_in_two_kinds_of_file_is_counted_once_though_its_numbers_are_rounded(academy: Academy) -> None:
    exact = "".join(shot(10 * n, ball=50.123 + n, launch=12.34).replace(":00,007", ":00.4,007") for n in range(9))
    rounded = "".join(shot(10 * n, ball=round(50.123 + n, 1), launch=12.3) for n in range(9))
    academy.export("01.tsv", HEADER + exact)
    academy.export("01.csv", HEADER + rounded)
    academy.night()
    assert academy.rows("select path, count(*) from raw.shot group by all") == [(f"{NIGHT}/01.csv", 9)]
    assert academy.rows(COUNTS)[1] == ("01.tsv", "replaced", 9, 0, 0, 9, 0)


def test_a_corrected_file_under_another_name_corrects(academy: Academy) -> None:
    academy.export("01.csv", good(20))
    academy.night()
    academy.export("01.corrected.csv", HEADER + "".join(shot(10 * n, ball=30, launch=20) for n in range(20)))
    academy.night()
    assert academy.rows("select ball_speed, count(*) from raw.shot group by all") == [(30.0, 20)]


def test_shots_of_one_minute_are_all_counted_where_times_have_no_seconds(academy: Academy) -> None:
    first = "".join(shot(60 * (n // 5), ball=50 + n) for n in range(20))
    second = "".join(shot(60 * (n // 5), ball=50 + n) for n in range(18, 40))
    academy.export("01.csv", HEADER + first)
    academy.export("01.2.csv", HEADER + second)
    academy.night()
    assert academy.rows("select count(*), count(distinct ball_speed) from raw.shot") == [(40, 40)]


def test_what_a_changed_file_no_longer_holds_is_counted_from_the_other_again(academy: Academy) -> None:
    academy.export("01.csv", good(30))
    newer = academy.export("01.2.csv", good(30, first=20))
    academy.night()
    academy.export("01.2.csv", good(26, first=27))
    academy.night()
    assert academy.rows(ONCE) == [(53, 53)]
    decide(academy, newer, decisions.WITHDRAW)
    academy.night()
    assert academy.rows(ONCE) == [(30, 30)]
    assert academy.rows(COUNTS)[1] == ("01.csv", "loaded", 30, 30, 0, 0, 0)


def test_a_renamed_file_is_counted_once_and_its_old_name_forgotten(academy: Academy) -> None:
    path = academy.landing / "shots" / academy.export("01.csv", good(9))
    academy.night()
    path.rename(path.with_name("01.morning.csv"))
    academy.night()
    assert academy.night().warnings == []
    assert academy.rows(COUNTS) == [("01.morning.csv", "loaded", 9, 9, 0, 0, 0)]
    assert academy.rows("select count(*) from raw.repeated_shot") == [(0,)]


def test_one_bays_file_under_another_bays_name_is_refused_and_named(academy: Academy) -> None:
    right, wrong = academy.export("01.csv", good(41)), academy.export("02.csv", good(41))
    (warning,) = academy.night().warnings
    assert f"shots/{wrong} refused: 41 of its 41 rows are the shots of shots/{right}, bay 01" in warning
    assert academy.rows("select bay_id, count(*) from raw.shot group by all") == [("01", 41)]
    assert academy.rows(COUNTS)[1] == ("02.csv", "refused", 41, 0, 0, 0, 41)


def test_the_bay_that_has_the_lessons_keeps_the_shots(academy: Academy) -> None:
    wrong = academy.export("02.csv", good(41))
    academy.night()
    academy.export("01.csv", good(41))
    academy.night()
    assert academy.rows("select bay_id, count(*) from raw.shot group by all") == [("01", 41)]
    (reason,) = academy.rows(f"select reason from raw.export_file where path = '{wrong}'")[0]
    assert reason.startswith("41 of its shots are those of shots/2024-02-19/01.csv, bay 01, and are counted there")
    assert academy.rows(COUNTS)[1] == ("02.csv", "replaced", 41, 0, 0, 0, 41)


def test_a_bay_that_was_overwritten_with_anothers_file_keeps_its_own_shots(academy: Academy) -> None:
    academy.export("01.csv", good(41))
    path = academy.export("02.csv", good(30, first=200))
    academy.night()
    academy.export("02.csv", good(41))
    (warning,) = academy.night().warnings
    assert "what was loaded from it before stays" in warning
    assert academy.rows("select path, count(*) from raw.shot where bay_id = '02' group by all") == [(path, 30)]


def test_a_wrong_file_that_is_taken_back_lets_the_right_one_in(academy: Academy) -> None:
    academy.table("lessons", "lesson_id,student_id,coach_id,bay_id,starts_at,ends_at\n")
    wrong, right = academy.export("01.csv", good(41)), academy.export("02.csv", good(41))
    academy.night()
    decide(academy, wrong, decisions.WITHDRAW)
    academy.night()
    academy.night()
    assert academy.rows("select path, count(*) from raw.shot group by all") == [(right, 41)]


def test_a_few_shots_of_another_bay_are_set_aside_and_the_rest_loads(academy: Academy) -> None:
    academy.export("01.csv", good(41))
    academy.export("02.csv", good(20, first=36))
    summary = academy.night()
    assert academy.rows(ONCE) == [(56, 56)]
    assert academy.rows(COUNTS)[1] == ("02.csv", "loaded", 20, 15, 0, 0, 5)
    assert any("02.csv: 5 of its shots are those of shots/2024-02-19/01.csv, bay 01" in one for one in summary.warnings)


def test_rows_of_a_night_are_all_accounted_for_across_files(academy: Academy) -> None:
    academy.profile("other", PLAIN)
    academy.export("01.csv", good(41) + shot(999, ball="x"))
    academy.export("01-2.csv", good(30, first=30))
    academy.export("02.csv", good(41))
    academy.export("02.2.csv", good(10, first=300) + shot(4000) + shot(4000))
    academy.night()
    academy.export("01.csv", good(3))
    academy.night()
    read, told, loaded = academy.rows(
        "select sum(rows_read), sum(rows_loaded + rows_rejected + rows_duplicate + rows_set_aside), "
        "sum(rows_loaded) filter (in_force) from raw.export_file where latest or in_force"
    )[0]
    assert read == told == 42 + 30 + 41 + 12 + 3
    assert academy.rows(ONCE) == [(loaded, loaded)]


def test_files_of_one_bay_are_merged_alike_in_whatever_order_they_are_read(academy: Academy) -> None:
    first, second = academy.export("01.csv", good(30)), academy.export("01.2.csv", good(30, first=20))
    academy.night()
    together = academy.rows("select path, line, ball_speed from raw.shot order by all")
    for table in ("raw.shot", "raw.repeated_shot", "raw.export_file"):
        academy.con.execute(f"delete from {table}")
    for path in (second, first):
        aside = academy.landing / path.split("/")[1]
        (academy.landing / "shots" / (first if path == second else second)).rename(aside.with_name("aside"))
        academy.night()
        aside.with_name("aside").rename(academy.landing / "shots" / (first if path == second else second))
    academy.night()
    assert academy.rows("select path, line, ball_speed from raw.shot order by all") == together


def test_shots_of_a_make_that_measures_no_launch_are_counted_once_too(academy: Academy) -> None:
    academy.profile("plain", PLAIN.replace('from = "launch", unit = "deg"', "optional = true"))
    academy.export("01.csv", good(30))
    academy.export("01.2.csv", good(30, first=20))
    academy.export("02.csv", good(30))
    summary = academy.night()
    assert academy.rows(ONCE) == [(50, 50)]
    assert summary.refused == 1
