"""A person taken out of the inbox: pieces and text files written anew, others named, everybody else untouched."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import polars as pl
import pytest

from tests.warehouse.landing.conftest import PLAIN, Academy
from warehouse.erasure.inbox import forget_in_inbox
from warehouse.erasure.landing import mentions
from warehouse.home import Home
from warehouse.landing.inbox import store

WHO, NAME = "ST0077", "Quillon Varndike"
PROFILE = (
    PLAIN.replace('{ from = "who", optional = true }', '{ from = "golfer", lookup = "name" }').replace(
        "[columns]", '[file]\nheader = "find"\n[fields]\ngolfer = { label = "Golfer" }\n[columns]'
    )
    + '[inbox]\nbay = { from = "bay" }\n'
)
TEXT = """Golfer: Varndike, Quillon
time,club,ball,launch,carry,bay
2024-02-19T10:00:00,driver,60,12,200,01
Golfer: Other Person
time,club,ball,launch,carry,bay
2024-02-19T10:01:00,driver,61,12,200,01
Golfer: QUILLON VARNDIKE
2024-02-20T10:02:00,driver,62,12,200,02
"""


@pytest.fixture
def academy(tmp_path: Path) -> Academy:
    """Return an academy whose inbox holds two golfers' shots."""
    made = Academy(tmp_path)
    made.profile("plain", PROFILE)
    made.table("students", "student_id,name,handed,joined_on,consent\n"
                           f"{WHO},{NAME},right,2023-01-01,yes\nS2,Other Person,right,2023-01-01,yes\n")  # fmt: skip
    folder = made.landing / "inbox" / "plain"
    folder.mkdir(parents=True)
    (folder / "both.csv").write_text(TEXT)
    made.night()
    assert made.rows("select count(*) from raw.shot where student_id = 'ST0077'") == [(2,)]
    return made


def test_pieces_and_the_file_itself_lose_the_person_and_nobody_else(academy: Academy, tmp_path: Path) -> None:
    said = forget_in_inbox(Home(tmp_path), WHO, {NAME}, rewrite_landing=True)
    assert said == [
        "warehouse/inbox: 2 rows of inbox/plain/both.csv taken out",
        "landing/inbox/plain/both.csv: 4 rows taken out",
    ]
    kept = (academy.landing / "inbox" / "plain" / "both.csv").read_text()
    assert kept.splitlines()[0:2] == ["time,club,ball,launch,carry,bay", "Golfer: Other Person"]
    assert "arndike" not in kept.casefold()
    assert kept.count("2024-") == 1
    folder = store.folder_of(academy.landing)
    left = [pl.read_parquet(path)["student_id"].to_list() for path in folder.rglob("*.parquet")]
    assert sorted(left) == [[], ["S2"]]
    assert mentions(folder, WHO, NAME) == []


def test_what_was_taken_out_does_not_come_back_with_the_next_night(academy: Academy, tmp_path: Path) -> None:
    forget_in_inbox(Home(tmp_path), WHO, {NAME}, rewrite_landing=True)
    academy.con.execute("delete from raw.shot where student_id = 'ST0077'")
    academy.table("students", "student_id,name,handed,joined_on,consent\nS2,Other Person,right,2023-01-01,yes\n")
    academy.night()
    assert academy.rows("select distinct student_id from raw.shot") == [("S2",)]


def test_a_workbook_is_named_to_be_corrected_by_hand(academy: Academy, tmp_path: Path) -> None:
    academy.profile("plain", PROFILE.replace("[file]", '[file]\nformat = "workbook"'))
    folder = academy.landing / "inbox" / "plain"
    (folder / "both.csv").unlink()
    book = openpyxl.Workbook()
    for line in TEXT.splitlines():
        book.active.append(line.split(","))
    book.save(folder / "both.xlsx")
    academy.night()
    said = forget_in_inbox(Home(tmp_path), WHO, {NAME}, rewrite_landing=True)
    assert any(line.startswith("landing/inbox/plain/both.xlsx: still holds them") for line in said)
    assert mentions(folder, "QUILLON VARNDIKE") == [folder / "both.xlsx"]
