"""Every make that a profile can say, from a file in the inbox to rows in raw."""

from __future__ import annotations

import pytest

from tests.warehouse.landing.conftest import Academy
from tests.warehouse.landing.inbox.makes import MAKES

STUDENTS = (
    "student_id,name,handed,joined_on,consent\nS1,Ola Nyvang,right,2023-01-01,yes\nS2,Ann Roe,left,2023-01-01,yes\n"
)
SEVERAL_BAYS = ("fjord", "quarry", "dunlin", "saltmarsh", "tidewater", "windmolen")
REJECTED = {
    "quarry": [(4, "ball_speed", "1,36 mph", "unparsable"), (5, "carry", "1,05 yds", "unparsable")],
    "ravenna": [(3, "club", "7", "unknown club")],
    "kettle": [(4, "struck_at", "2024-02-19 19:01:05", "unparsable")],
}
"""Rows that are told: line, column, value as it stands in the file, reason."""


def bring(academy: Academy, name: str) -> None:
    """Put a make's file into its folder of the inbox, in an academy with one bay of it or two."""
    make = MAKES[name]
    other = name if name in SEVERAL_BAYS else "plain"
    academy.table("students", STUDENTS)
    academy.table("bays", "bay_id,site_id,export_profile,setting,ball\n"
                          f"01,N,{name},indoor,range\n02,N,{other},outdoor,premium\n")  # fmt: skip
    academy.profile(name, make.profile)
    path = academy.landing / "inbox" / name / make.file
    path.parent.mkdir(parents=True)
    path.write_bytes(make.data)
    academy.night()


@pytest.mark.parametrize("name", MAKES)
def test_a_make_gives_the_shots_that_a_person_reads_in_its_file(academy: Academy, name: str) -> None:
    bring(academy, name)
    make = MAKES[name]
    told = academy.rows(
        "select bay_id, struck_at, if(starts_with(student_id, 'unknown'), 'unknown', student_id), club, "
        + ", ".join(f'"{number}"' for number in make.numbers)
        + " from raw.shot order by struck_at, bay_id, student_id"
    )
    assert [row[:4] for row in told] == [shot[:4] for shot in make.shots]
    assert [row[4:] for row in told] == [pytest.approx(shot[4:], abs=1e-9) for shot in make.shots]


@pytest.mark.parametrize("name", MAKES)
def test_every_row_of_a_make_is_accounted_for(academy: Academy, name: str) -> None:
    bring(academy, name)
    make, wanted = MAKES[name], REJECTED.get(name, [])
    told = academy.rows("select line, column_name, value, reason from raw.rejected_row order by line")
    if name == "quarry":
        # On its line 4 two cells are broken, and the first in the order of columns counts.
        assert [(row[0], row[3]) for row in told] == [(4, "unparsable"), (5, "unparsable")]
    else:
        assert told == wanted
    read = len(make.shots) + len(wanted)
    assert academy.rows("select sum(rows_read), sum(rows_loaded), sum(rows_rejected), sum(rows_passed_over) "
                        "from raw.export_file") == [(read, len(make.shots), len(wanted), make.passed_over)]  # fmt: skip
    assert academy.rows("select distinct original_path from raw.export_file") == [(f"inbox/{name}/{make.file}",)]


@pytest.mark.parametrize("name", MAKES)
def test_a_make_is_read_alike_from_the_folder_of_its_night(academy: Academy, name: str) -> None:
    bring(academy, name)
    make = MAKES[name]
    night, bay = make.shots[0][1].date().isoformat(), make.shots[0][0]
    columns = ", ".join(("line", "struck_at", "student_id", "club", *(f'"{number}"' for number in make.numbers)))
    wanted = academy.rows(f"select {columns} from raw.shot where bay_id = '{bay}' and night = '{night}' order by line")
    if name == "tidewater":
        return  # its date stands in its name, and in landing/shots the name is the bay's
    suffix = {"workbook": make.file[-4:].replace("xlsx", ".xlsx"), "json": ".json", "jsonl": ".jsonl"}
    kind = next((kind for kind in suffix if f'format = "{kind}"' in make.profile), "csv")
    (academy.landing / "inbox" / name / make.file).unlink()
    academy.con.execute("delete from raw.shot; delete from raw.export_file; delete from raw.rejected_row")
    academy.export(f"{bay}{suffix.get(kind, '.csv')}", make.data, night)
    academy.night()
    told = academy.rows(f"select {columns} from raw.shot where night = '{night}' order by line")
    assert [row for row in told if row in wanted] == wanted


def test_left_handers_that_a_bay_turned_round_are_marked(academy: Academy) -> None:
    bring(academy, "kettle")
    assert academy.rows("select distinct already_turned from raw.shot") == [(True,)]
    bring(academy, "tidewater")
    assert academy.rows("select distinct already_turned from raw.shot where path like '%tidewater%'") == [(None,)]
