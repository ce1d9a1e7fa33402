"""The inbox: any name, one bay or many, a session or a history, added to daily; nothing twice and nothing lost."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.warehouse.landing.conftest import HEADER, PLAIN, Academy, shot
from warehouse.landing.inbox import store

INBOX = '\n[inbox]\nbay = { from = "bay", map = { "Box 1" = "01", "Box 2" = "02" } }\n'
STATUS = "select night::varchar, bay_id, status, rows_loaded from raw.export_file order by all"


def box(academy: Academy, name: str, text: str | bytes, make: str = "plain") -> Path:
    """Write a file into a make's folder of the inbox, each a second later than the last."""
    path = academy.landing / "inbox" / make / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    academy.clock += 1
    os.utime(path, (academy.clock, academy.clock))
    return path


def ball(day: int, minute: int, bay: str = "Box 1", who: str = "007", ball_speed: object = 60) -> str:
    """Return one line of a file that names its bay."""
    return f"2024-02-{day}T10:{minute:02}:00,{who},driver,{ball_speed},12,200,{bay}\n"


HEAD = HEADER.strip() + ",bay\n"


@pytest.fixture
def inbox(academy: Academy) -> Academy:
    """Return an academy whose make says its bay in a column."""
    academy.profile("plain", PLAIN + INBOX)
    return academy


def test_a_history_of_two_bays_becomes_a_piece_for_each_night_and_bay(inbox: Academy) -> None:
    box(inbox, "old/All Shots 2024 (final).csv", HEAD + ball(19, 1) + ball(19, 2, "Box 2") + ball(20, 1) + ball(20, 2))
    inbox.night()
    assert inbox.rows(STATUS) == [
        ("2024-02-19", "01", "loaded", 1), ("2024-02-19", "02", "loaded", 1), ("2024-02-20", "01", "loaded", 2)
    ]  # fmt: skip
    assert inbox.rows("select distinct original_path from raw.export_file") == [
        ("inbox/plain/old/All Shots 2024 (final).csv",)
    ]
    assert inbox.rows("select line from raw.shot order by struck_at, bay_id") == [(2,), (3,), (4,), (5,)]


def test_the_same_inbox_again_changes_nothing(inbox: Academy) -> None:
    path = box(inbox, "a.csv", HEAD + ball(19, 1) + ball(20, 1))
    inbox.night()
    before = inbox.rows("select * exclude (modified_ns) from raw.export_file order by path")
    os.utime(path, (1, 1))
    assert inbox.night().outcomes == []
    path.write_text(HEAD + ball(19, 1) + ball(20, 1))
    assert inbox.night().outcomes == []
    assert inbox.rows("select * exclude (modified_ns) from raw.export_file order by path") == before


@pytest.mark.parametrize("newest_first", [False, True])
def test_a_file_added_to_daily_costs_its_last_night_only(inbox: Academy, newest_first: bool) -> None:
    def text(days: range) -> str:
        lines = [ball(day, minute) for day in days for minute in range(3)]
        return HEAD + "".join(reversed(lines) if newest_first else lines)

    box(inbox, "growing.csv", text(range(10, 15)))
    inbox.night()
    box(inbox, "growing.csv", text(range(10, 16)))
    summary = inbox.night()
    assert [outcome.file.night.day for outcome in summary.outcomes] == [15]
    assert inbox.rows("select count(*) from raw.shot") == [(18,)]


def test_a_file_that_holds_the_last_days_only_keeps_what_it_held_before(inbox: Academy) -> None:
    box(inbox, "rolling.csv", HEAD + ball(10, 1) + ball(11, 1) + ball(11, 2) + ball(12, 1))
    inbox.night()
    box(inbox, "rolling.csv", HEAD + ball(11, 2) + ball(12, 1) + ball(13, 1))
    summary = inbox.night()
    assert summary.warnings == []
    assert inbox.rows(STATUS) == [
        ("2024-02-10", "01", "loaded", 1), ("2024-02-11", "01", "loaded", 2), ("2024-02-12", "01", "loaded", 1),
        ("2024-02-13", "01", "loaded", 1),
    ]  # fmt: skip


def test_a_corrected_night_replaces_what_was_read_of_it(inbox: Academy) -> None:
    box(inbox, "a.csv", HEAD + ball(19, 1) + ball(20, 1, ball_speed=60))
    inbox.night()
    box(inbox, "a.csv", HEAD + ball(19, 1) + ball(20, 1, ball_speed=61))
    inbox.night()
    assert inbox.rows("select ball_speed from raw.shot order by struck_at") == [(60.0,), (61.0,)]


def test_rows_of_a_bay_that_nobody_knows_are_said_with_their_number(inbox: Academy) -> None:
    box(inbox, "a.csv", HEAD + ball(19, 1) + ball(19, 2, "Box 9") + ball(19, 3, "Box 9") + ball(19, 4, ""))
    summary = inbox.night()
    assert sorted(warning.split(": ", 1)[1] for warning in summary.warnings) == [
        "1 rows: they say no bay: add it there, or map it in [inbox] of profiles/plain.toml",
        "2 rows: bay 'Box 9' is not in bays.csv: add it there, or map it in [inbox] of profiles/plain.toml",
    ]
    assert inbox.rows(STATUS) == [
        ("2024-02-19", "01", "loaded", 1), ("2024-02-19", "?", "refused", 0), ("2024-02-19", "Box 9", "refused", 0)
    ]  # fmt: skip
    inbox.profile("plain", PLAIN + INBOX.replace('"Box 1"', '"Box 9" = "02", "Box 1"'))
    inbox.night()
    assert inbox.rows("select count(*) from raw.shot where bay_id = '02'") == [(2,)]


def test_a_row_that_does_not_say_its_time_is_rejected_in_the_night_before_it(inbox: Academy) -> None:
    box(inbox, "a.csv", HEAD + ball(19, 1) + ball(20, 1) + "soon,007,driver,60,12,200,Box 1\n" + ball(20, 2))
    inbox.night()
    assert inbox.rows("select night::varchar, line, column_name, value from raw.rejected_row") == [
        ("2024-02-20", 4, "struck_at", "soon")
    ]
    assert inbox.rows("select sum(rows_read), sum(rows_loaded), sum(rows_rejected) from raw.export_file") == [(4, 3, 1)]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("empty.csv", b"", "the file is empty"),
        ("blank.csv", b"\n\n", "the file is empty"),
        ("other.csv", b"a,b\n1,2\n", "no column 'ball', 'club', 'launch', 'time' in the header (2 columns)"),
        ("half.csv.gz", b"\x1f\x8b\x08\x00\x00\x00", "its compression ends early"),
        ("times.csv", (HEAD + "soon,007,driver,60,12,200,Box 1\n").encode(), "no row says when it was struck: 'soon'"),
        ("pic.csv", bytes(range(256)) * 40, "no column"),
    ],
)
def test_a_file_that_cannot_be_cut_is_refused_in_words_and_holds_nobody_up(
    inbox: Academy, name: str, content: bytes, said: str
) -> None:
    box(inbox, name, content)
    box(inbox, "good.csv", HEAD + ball(19, 1))
    inbox.night()
    ((status, reason, original),) = inbox.rows(
        "select status, reason, original_path from raw.export_file where status = 'refused'"
    )
    assert (status, original) == ("refused", f"inbox/plain/{name}")
    assert said in reason
    assert inbox.rows("select count(*) from raw.shot") == [(1,)]
    assert inbox.night().outcomes == []


def test_a_make_of_several_bays_that_says_none_is_refused_with_the_remedy(academy: Academy) -> None:
    box(academy, "a.csv", HEADER + shot(1))
    academy.night()
    ((reason,),) = academy.rows("select reason from raw.export_file")
    assert reason == (
        "says nowhere which bay it is of, and bays.csv names 01, 02 for it: add [inbox] bay = { from = ... } "
        "to profiles/plain.toml"
    )


def test_a_make_that_no_bay_has_and_a_file_in_no_folder_are_said(academy: Academy) -> None:
    box(academy, "a.csv", HEADER + shot(1), make="unheard-of")
    (academy.landing / "inbox" / "loose.csv").write_text(HEADER)
    summary = academy.night()
    assert any("inbox/loose.csv lies in no make's folder" in warning for warning in summary.warnings)
    assert any("there is no profiles/unheard-of.toml" in warning for warning in summary.warnings)


def test_an_original_that_was_taken_away_leaves_its_shots_with_one_warning(inbox: Academy) -> None:
    path = box(inbox, "a.csv", HEAD + ball(19, 1) + ball(20, 1))
    inbox.night()
    path.unlink()
    assert inbox.night().warnings == ["inbox/plain/a.csv is no longer in the inbox; what was loaded from it stays"]
    assert inbox.rows("select count(*) from raw.shot") == [(2,)]


def test_a_bay_reads_its_history_by_the_make_it_had_then(academy: Academy) -> None:
    academy.profile("older", PLAIN.replace('unit = "m/s"', 'unit = "km/h"') + '[inbox]\nbay = { from = "bay" }\n')
    box(academy, "a.csv", HEAD + ball(19, 1, "01", ball_speed=180), make="older")
    academy.night()
    assert academy.rows("select bay_id, ball_speed from raw.shot") == [("01", 50.0)]


def test_names_are_looked_up_again_when_the_students_change(inbox: Academy) -> None:
    inbox.profile("plain", PLAIN.replace('"who"', '"who", lookup = "name"') + INBOX)
    box(inbox, "a.csv", HEAD + ball(19, 1, who="Student A") + ball(20, 1, who="Guest Here") + ball(20, 2, who=""))
    inbox.night()
    told = inbox.rows("select student_id from raw.shot order by struck_at")
    assert told[0] == ("007",)
    assert told[1][0].startswith("unknown-")
    assert "Guest" not in told[1][0]
    assert told[2] == (None,)
    inbox.table("students", "student_id,name,handed,joined_on,consent\n007,A Student,right,2023-01-01,yes\n"
                            "008,Here Guest,right,2023-01-01,yes\n")  # fmt: skip
    summary = inbox.night()
    assert [outcome.file.night.day for outcome in summary.outcomes] == [20]
    assert inbox.rows("select student_id from raw.shot order by struck_at") == [("007",), ("008",), (None,)]


def test_a_name_that_two_students_share_is_nobodys(inbox: Academy) -> None:
    inbox.profile("plain", PLAIN.replace('"who"', '"who", lookup = "name"') + INBOX)
    inbox.table("students", "student_id,name,handed,joined_on,consent\n007,A Student,right,2023-01-01,yes\n"
                            "008,Student A,right,2023-01-01,yes\n")  # fmt: skip
    box(inbox, "a.csv", HEAD + ball(19, 1, who="A Student"))
    inbox.night()
    assert inbox.rows("select starts_with(student_id, 'unknown-') from raw.shot") == [(True,)]


def test_the_landing_folder_is_never_written(inbox: Academy) -> None:
    box(inbox, "a.csv", HEAD + ball(19, 1))
    before = {path: path.stat().st_mtime_ns for path in inbox.landing.rglob("*")}
    inbox.night()
    assert {path: path.stat().st_mtime_ns for path in inbox.landing.rglob("*")} == before


def test_a_night_that_the_file_says_itself_takes_all_its_rows(inbox: Academy) -> None:
    inbox.profile("plain", PLAIN + INBOX + 'night = { from = "day", format = "%d.%m.%Y" }\n')
    box(inbox, "a.csv", HEAD.strip() + ",day\n" + ball(19, 1).strip() + ",19.02.2024\n"
        + ball(20, 1).strip() + ",19.02.2024\n")  # fmt: skip
    inbox.night()
    assert inbox.rows(STATUS) == [("2024-02-19", "01", "loaded", 1)]
    assert inbox.rows("select line, reason from raw.rejected_row") == [(3, "outside its night")]


def test_a_link_out_of_the_landing_folder_is_not_followed(inbox: Academy, tmp_path: Path) -> None:
    secret = tmp_path / "secret.csv"
    secret.write_text(HEAD + ball(19, 1))
    (inbox.landing / "inbox" / "plain").mkdir(parents=True)
    (inbox.landing / "inbox" / "plain" / "a.csv").symlink_to(secret)
    inbox.night()
    ((reason,),) = inbox.rows("select reason from raw.export_file")
    assert reason.startswith("is a link that leads out of the landing folder")


def test_another_versions_book_is_begun_anew_and_nothing_is_loaded_twice(inbox: Academy) -> None:
    box(inbox, "a.csv", HEAD + ball(19, 1) + ball(20, 1))
    inbox.night()
    with closing(sqlite3.connect(store.folder_of(inbox.landing) / store.BOOK)) as book, book:
        book.executescript("pragma user_version = 1; drop table original; create table original (path text)")
    assert inbox.night().rows_loaded in (0, 2)
    assert inbox.rows(STATUS) == [("2024-02-19", "01", "loaded", 1), ("2024-02-20", "01", "loaded", 1)]


def test_a_file_named_after_a_student_is_told_without_the_name(inbox: Academy) -> None:
    box(inbox, "A_Student 2024-02-19.csv", HEAD + ball(19, 1) + ball(19, 2, ball_speed="x"))
    box(inbox, "student,a.csv", HEAD)
    summary = inbox.night()
    told = inbox.rows("select path, original_path, reason from raw.export_file")
    told += inbox.rows("select path, place, detail from raw.rejected_row")
    assert len(told) == 3
    assert not any("student 2024" in str(row).lower() or "student,a" in str(row).lower() for row in told)
    assert all("named after a student" in row[1] for row in told[:2])
    assert not any("tudent,a" in warning for warning in summary.warnings)
