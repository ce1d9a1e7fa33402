"""Reference tables: typed, checked and pointing at things that exist; faults name table, line, column and remedy."""

from __future__ import annotations

import datetime as dt

import pytest

from tests.warehouse.landing.conftest import TABLES, Academy
from warehouse.landing.reference import load


def test_ids_keep_leading_zeros_and_times_their_local_time(academy: Academy) -> None:
    summary = load.load(academy.con, academy.landing)
    assert summary.warnings == []
    assert academy.rows("select * exclude (line) from raw.lesson") == [
        ("L1", "007", "C1", "01", dt.datetime(2024, 2, 19, 10), dt.datetime(2024, 2, 19, 11))
    ]
    assert academy.rows("select ends_at, chosen_by, line from raw.drill_log") == [(None, "coach", 2)]


def test_a_byte_order_mark_and_crlf_are_no_fault(academy: Academy) -> None:
    academy.table("students", ("\ufeff" + TABLES["students"]).replace("\n", "\r\n"))
    assert load.load(academy.con, academy.landing).rows["students.csv"] == 1


def test_optional_tables_may_be_missing_and_become_empty_again(academy: Academy) -> None:
    academy.table("events", "scope,id,on_date,kind,club,note\nbay,01,2024-02-20,device moved,,\n")
    load.load(academy.con, academy.landing)
    assert academy.rows("select scope, id, club from raw.event") == [("bay", "01", None)]
    (academy.landing / "academy" / "events.csv").unlink()
    assert load.load(academy.con, academy.landing).changed == ("events.csv",)
    assert academy.rows("select count(*) from raw.event") == [(0,)]


def test_unchanged_tables_are_not_written_again_and_warn_again(academy: Academy) -> None:
    academy.table("coaches", "coach_id,name,shoe size\nC1,A Coach,44\n")
    first = load.load(academy.con, academy.landing)
    again = load.load(academy.con, academy.landing)
    assert (again.changed, again.rows) == ((), first.rows)
    assert again.warnings == first.warnings == ["coaches.csv: column shoe size is not known and kept out"]


@pytest.mark.parametrize(
    ("table", "text", "said"),
    [
        ("students", "student_id,name,handed,joined_on\n1,A,right,2023-01-01\n",
         "students.csv line 1, consent: no such column"),
        ("students", "student_id,name,handed,joined_on,consent\n1,A,right,2023-01-01,\n",
         "students.csv line 2, consent: is empty and required; fill it"),
        ("students", "student_id,name,handed,joined_on,consent\n1,A,both,2023-01-01,yes\n",
         "students.csv line 2, handed 'both': cannot be read; write one of right, left"),
        ("students", "student_id,name,handed,joined_on,consent\n1,A,right,1.2.2023,yes\n",
         "students.csv line 2, joined_on '1.2.2023': cannot be read; write a date such as 2024-02-19"),
        ("sites", "site_id,name,timezone,altitude_m\nN,North,Lisbon,12\n",
         "sites.csv line 2, timezone 'Lisbon': no IANA time zone"),
        ("sites", "site_id,name,timezone,altitude_m\nN,North,Europe/Lisbon,1_2\n",
         "sites.csv line 2, altitude_m '1_2': cannot be read; write a number"),
        ("bays", TABLES["bays"].splitlines()[0] + "\n03,S,plain,indoor,range\n",
         "bays.csv line 2, site_id 'S': no such site"),
        ("lessons", b"lesson_id,student_id\xff\n", "lessons.csv line 1: is not UTF-8"),
    ],
)  # fmt: skip
def test_a_fault_that_spoils_a_table_is_raised_and_changes_nothing(
    academy: Academy, table: str, text: str, said: str
) -> None:
    load.load(academy.con, academy.landing)
    before = academy.rows("from raw.reference_file")
    academy.table(table, text)
    with pytest.raises(load.ReferenceTablesError) as raised:
        load.load(academy.con, academy.landing)
    assert said in str(raised.value)
    assert academy.rows("from raw.reference_file") == before


def test_all_faults_are_raised_at_once(academy: Academy) -> None:
    (academy.landing / "academy" / "lessons.csv").unlink()
    academy.table("coaches", "coach_id\nC1\n")
    with pytest.raises(load.ReferenceTablesError) as raised:
        load.load(academy.con, academy.landing)
    assert {(fault.file, fault.line) for fault in raised.value.faults} == {("lessons.csv", None), ("coaches.csv", 1)}


@pytest.mark.parametrize(
    ("table", "row", "said"),
    [
        ("lessons", "L2,999,C1,01,2024-02-19T10:00:00,2024-02-19T11:00:00", "student_id '999': no such student"),
        ("lessons", "L2,007,C9,01,2024-02-19T10:00:00,2024-02-19T11:00:00", "coach_id 'C9': no such coach"),
        ("lessons", "L2,007,C1,99,2024-02-19T10:00:00,2024-02-19T11:00:00", "bay_id '99': no such bay"),
        (
            "lessons",
            "L2,007,C1,01,2024-02-19T11:00:00,2024-02-19T11:00:00",
            "ends_at '2024-02-19 11:00:00': is not after",
        ),
        ("lessons", "L2,007,C1,01,1900-01-01T00:00:00,2199-12-31T23:00:00", "is more than a day after starts_at"),
        ("drill_log", "L1,D1,2024-02-19T10:30:00,9999-12-31T23:00:00,coach", "is more than a day after starts_at"),
        ("lessons", "L2,007,C1,01,2024-02-19T10:00:00Z,2024-02-19T11:00:00", "without offset"),
        ("lessons", "L2,007,C1,01,2024-02-19,2024-02-19T11:00:00", "starts_at '2024-02-19': cannot be read"),
        ("lessons", "L1,007,C1,01,2024-02-19T12:00:00,2024-02-19T13:00:00", "lesson_id 'L1': stands on line 2 already"),
        ("lessons", "L2,007,C1,01,2024-02-19T12:00:00,2024-02-19T13:00:00,more", "7 cells where the header has 6"),
        ("lessons", "L2,007,C1,01,,2024-02-19T11:00:00", "lessons.csv line 3, starts_at: is empty and required"),
        ("drill_log", "L9,D1,2024-02-19T10:20:00,,coach", "lesson_id 'L9': no such lesson"),
        ("drill_log", "L1,D9,2024-02-19T10:20:00,,coach", "drill_id 'D9': no such drill"),
        ("drill_log", "L1,D1,2024-02-19T10:30:00,,guess", "chosen_by 'guess': cannot be read; write one of coach"),
    ],
)
def test_a_row_at_fault_is_kept_out_with_a_warning_and_its_neighbours_stay(
    academy: Academy, table: str, row: str, said: str
) -> None:
    academy.table(table, TABLES[table] + row + "\n")
    (warning,) = load.load(academy.con, academy.landing).warnings
    assert warning.startswith(f"{table}.csv line 3")
    assert said in warning
    assert "kept out" in warning
    assert academy.rows(f"select count(*) from raw.{table.removesuffix('s')}") == [(1,)]


def test_a_lesson_without_coach_is_own_practice(academy: Academy) -> None:
    academy.table("lessons", TABLES["lessons"].replace("C1", ""))
    load.load(academy.con, academy.landing)
    assert academy.rows("select coach_id from raw.lesson") == [(None,)]


@pytest.mark.parametrize(
    ("table", "row", "said"),
    [
        ("sites", "S,South,Lisbon,12", "timezone 'Lisbon': no IANA time zone"),
        ("bays", "03,X,plain,indoor,range", "site_id 'X': no such site"),
        ("coaches", "C2,", "name: is empty and required"),
        ("students", "007,B,left,2023-01-01,no", "student_id '007': stands on line"),
        ("students", "008,B,left,1.2.2023,no", "joined_on '1.2.2023': cannot be read"),
        ("drills", "D2,Rod,club_path,toward,,any", "aim_target: a target belongs to the direction toward"),
    ],
)
def test_one_bad_line_of_any_table_keeps_that_line_out_and_the_night_goes_on(
    academy: Academy, table: str, row: str, said: str
) -> None:
    load.load(academy.con, academy.landing)
    name = "raw." + {"coaches": "coach"}.get(table, table.removesuffix("s"))
    before = academy.rows(f"select * exclude (line) from {name}")
    academy.table(table, TABLES[table].rstrip("\n") + "\n" + row + "\n")
    (warning,) = load.load(academy.con, academy.landing).warnings
    assert said in warning
    assert "The row is kept out" in warning
    assert academy.rows(f"select * exclude (line) from {name}") == before


def test_many_rows_at_fault_alike_are_told_in_one_line_with_their_number(academy: Academy) -> None:
    rows = "".join(f"M{n},007,C1,99,2024-02-19T10:00:00,2024-02-19T11:00:00\n" for n in range(30))
    academy.table("lessons", TABLES["lessons"] + rows)
    (warning,) = load.load(academy.con, academy.landing).warnings
    assert "bay_id '99': no such bay" in warning
    assert "30 rows like this are kept out" in warning


def test_drills_logged_without_times_are_taken_each_once(academy: Academy) -> None:
    academy.table("drills", TABLES["drills"] + "D2,Two,club_path,raise,,any\n")
    rows = "L1,D1,,,coach\nL1,D2,,2024-02-19T10:40:00,\nL1,D1,,,coach\n"
    academy.table("drill_log", TABLES["drill_log"].splitlines()[0] + "\n" + rows)
    (warning,) = load.load(academy.con, academy.landing).warnings
    assert "drill_log.csv line 4" in warning
    assert academy.rows("select drill_id, starts_at, ends_at::time::varchar from raw.drill_log order by all") == [
        ("D1", None, None), ("D2", None, "10:40:00"),
    ]  # fmt: skip


def test_an_observation_that_has_not_come_yet_is_kept_out(academy: Academy) -> None:
    row = "007,{},stance width,40,cm,C1\n"
    academy.table("observations", "student_id,observed_at,measure,value,unit,coach_id\n"
                  + row.format("9999-12-31T10:00:00") + row.format("2024-02-19T10:00:00"))  # fmt: skip
    (warning,) = load.load(academy.con, academy.landing).warnings
    assert "observations.csv line 2" in warning and "has not come yet" in warning
    assert academy.rows("select count(*) from raw.observation") == [(1,)]
