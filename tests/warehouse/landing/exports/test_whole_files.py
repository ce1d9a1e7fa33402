"""A file that would load nothing, too little, or less than before is refused whole; good data stays."""

from __future__ import annotations

from typing import Any

import pytest

from tests.warehouse.landing.conftest import HEADER, NIGHT, PLAIN, Academy, shot
from warehouse.landing.exports import decisions
from warehouse.landing.profile.bay_profiles import content_hash
from warehouse.settings.settings import Limits

COUNTS = (
    "select path, status, rows_read, rows_loaded, rows_rejected, rows_duplicate, rows_set_aside from raw.export_file"
)


def good(rows: int, first: int = 0) -> str:
    """Return a file of so many good shots."""
    return HEADER + "".join(shot(10 * n, ball=50 + n % 20) for n in range(first, first + rows))


def spoiled(rows: int, of: int) -> str:
    """Return a file in which so many of its rows have a time in another format."""
    lines = [shot(10 * n, ball=50 + n % 20) for n in range(of)]
    return HEADER + "".join(
        line.replace("2024-02-19T", "19/02/2024 ") if at < rows else line for at, line in enumerate(lines)
    )


def decide(academy: Academy, path: str, decision: str) -> None:
    """Note a decision about a file as it lies there."""
    decisions.add(academy.landing, path, content_hash(academy.landing / "shots" / path), decision, "a reason")


def test_a_file_of_which_no_row_would_load_is_refused_with_its_commonest_reason(academy: Academy) -> None:
    path = academy.export("01.csv", spoiled(41, 41))
    summary = academy.night()
    assert academy.rows(COUNTS) == [(path, "refused", 41, 0, 41, 0, 0)]
    assert academy.rows("select count(*) from raw.rejected_row where latest") == [(41,)]
    (warning,) = summary.warnings
    assert warning.startswith(f"shots/{path} refused: none of its 41 rows would load: 41 unparsable, such as line 2, "
                              "struck_at '19/02/2024 10:00:00' (a time written ISO 8601 was expected")  # fmt: skip


@pytest.mark.parametrize(("lost", "status"), [(20, "loaded"), (21, "refused")])
def test_a_file_is_refused_past_the_share_that_may_be_lost(academy: Academy, lost: int, status: str) -> None:
    path = academy.export("01.csv", spoiled(lost, 40))
    academy.night()
    loaded = 40 - lost if status == "loaded" else 0
    assert academy.rows(COUNTS) == [(path, status, 40, loaded, lost, 0, 40 - lost - loaded)]
    assert academy.rows("select count(*) from raw.shot") == [(loaded,)]


def test_the_share_that_may_be_lost_is_a_setting_and_a_change_of_it_is_heeded(academy: Academy) -> None:
    academy.export("01.csv", spoiled(21, 40))
    assert academy.night().refused == 1
    assert academy.night().outcomes == []
    assert academy.night(limits=Limits(lost_share=0.6)).rows_loaded == 19


def test_smaller_losses_are_told_with_counts_by_reason(academy: Academy) -> None:
    path = academy.export("01.csv", good(9) + shot(200, club="putter") + shot(300, ball="x") + shot(301, ball="y"))
    (warning,) = academy.night().warnings
    assert warning.startswith(f"shots/{path}: 3 of 12 rows refused (2 unparsable, 1 unknown club), such as line 12, ")


def test_losses_of_many_files_are_told_by_bay(academy: Academy) -> None:
    for day in range(10, 22):
        night = f"2024-02-{day}"
        academy.export("01.csv", (good(9) + shot(300, ball="x")).replace("2024-02-19", night), night=night)
    (warning,) = academy.night().warnings
    lost = "bay 01, 12 files: 12 of 120 rows refused (12 unparsable), such as shots/2024-02-10/01.csv"
    assert warning.startswith(lost)


def test_a_header_without_rows_is_refused(academy: Academy) -> None:
    path = academy.export("01.csv", HEADER)
    (warning,) = academy.night().warnings
    assert warning.startswith(f"shots/{path} refused: it holds a header and no rows")


def test_yesterdays_file_in_todays_folder_is_refused_and_says_where_it_belongs(academy: Academy) -> None:
    path = academy.export("01.csv", good(41).replace("2024-02-19", "2024-02-18"))
    (warning,) = academy.night().warnings
    assert f"shots/{path} refused: none of its 41 rows would load: 41 outside its night" in warning
    assert warning.endswith("they are of 2024-02-18: if it is that night's file, move it to shots/2024-02-18/01.csv")


def test_an_export_of_a_whole_history_says_which_nights_it_holds(academy: Academy) -> None:
    body = "".join(good(5).removeprefix(HEADER).replace("2024-02-19", f"2024-02-{day}") for day in range(10, 20))
    academy.export("01.csv", HEADER + body)
    (warning,) = academy.night().warnings
    assert "45 of its 50 rows would be lost: 45 outside its night" in warning
    assert "they are of 9 other nights, 2024-02-10 to 2024-02-18: put an export of many nights into" in warning


def test_a_value_of_a_whole_line_which_may_name_a_person_is_not_told(academy: Academy) -> None:
    academy.export("01.csv", HEADER + "2024-02-19T10:00:00,A Student,driver,60,12,200,7,8\n")
    (warning,) = academy.night().warnings
    assert "such as line 2 (8 fields" in warning
    assert "A Student" not in warning


def test_a_corrected_file_with_markedly_fewer_rows_waits_and_the_earlier_one_stays(academy: Academy) -> None:
    path = academy.export("01.csv", good(41))
    academy.night()
    academy.export("01.csv", good(20))
    summary = academy.night()
    assert academy.rows("select count(*) from raw.shot") == [(41,)]
    assert academy.rows(COUNTS + " where latest") == [(path, "refused", 20, 0, 0, 0, 20)]
    (warning,) = summary.warnings
    assert "it would load 20 rows where the file before it loaded 41, which stay: correct it, or if it is" in warning
    assert f"`academy take-export {path}`" in warning
    assert academy.night().outcomes == []
    decide(academy, path, decisions.TAKE)
    assert academy.night().rows_loaded == 20
    assert academy.rows("select count(*) from raw.shot") == [(20,)]
    assert academy.rows("select path, decision, note from raw.export_decision") == [(path, "take", "a reason")]


@pytest.mark.parametrize(("rows", "stands"), [(33, 33), (32, 41), (60, 60)])
def test_a_delivery_replaces_the_one_before_unless_it_is_markedly_smaller(
    academy: Academy, rows: int, stands: int
) -> None:
    academy.export("01.csv", good(41))
    academy.night()
    academy.export("01.csv", good(rows))
    academy.night()
    assert academy.rows("select count(*) from raw.shot") == [(stands,)]


def test_a_file_opened_and_saved_with_other_dates_never_replaces_the_good_one(academy: Academy) -> None:
    path = academy.export("01.csv", good(41))
    academy.night()
    academy.export("01.csv", spoiled(41, 41))
    (warning,) = academy.night().warnings
    assert "what was loaded from it before stays" in warning
    assert academy.rows("select count(*) from raw.shot") == [(41,)]
    assert academy.rows("select count(*) from raw.rejected_row where latest") == [(41,)]
    academy.export("01.csv", good(42))
    academy.night()
    assert academy.rows(COUNTS) == [(path, "loaded", 42, 42, 0, 0, 0)]
    assert academy.rows("select count(*) from raw.rejected_row") == [(0,)]


def test_what_would_be_refused_for_its_losses_is_taken_on_request_but_never_where_nothing_loads(
    academy: Academy,
) -> None:
    path = academy.export("01.csv", spoiled(39, 41))
    decide(academy, path, decisions.TAKE)
    assert academy.night().rows_loaded == 2
    academy.export("01.csv", spoiled(41, 41))
    decide(academy, path, decisions.TAKE)
    academy.night()
    assert academy.rows("select count(*) from raw.shot") == [(2,)]


def test_a_file_taken_back_goes_out_and_comes_in_again_once_it_is_taken(academy: Academy) -> None:
    path, other = academy.export("01.csv", good(41)), academy.export("02.csv", good(5, first=100))
    academy.night()
    decide(academy, path, decisions.WITHDRAW)
    summary = academy.night()
    assert [str(night) for night in summary.nights] == [NIGHT]
    assert any(f"shots/{path} refused: taken back on" in warning for warning in summary.warnings)
    assert academy.rows("select path, count(*) from raw.shot group by all") == [(other, 5)]
    assert academy.night().outcomes == []
    decide(academy, path, decisions.TAKE)
    assert academy.night().rows_loaded == 41


def test_a_file_removed_and_taken_back_leaves_nothing_but_its_line_in_the_book(academy: Academy) -> None:
    path = academy.export("01.csv", good(41))
    academy.night()
    decide(academy, path, decisions.WITHDRAW)
    (academy.landing / "shots" / path).unlink()
    assert academy.night().warnings == []
    assert academy.rows("select (select count(*) from raw.shot), (select count(*) from raw.export_file)") == [(0, 0)]
    assert academy.rows("select decision from raw.export_decision") == [("withdraw",)]


def test_a_removed_file_that_is_decided_to_stay_is_no_longer_told_of(academy: Academy) -> None:
    path = academy.export("01.csv", good(41))
    academy.night()
    decide(academy, path, decisions.TAKE)
    academy.night()
    (academy.landing / "shots" / path).unlink()
    assert academy.night().warnings == []
    assert academy.rows("select count(*) from raw.shot") == [(41,)]


def test_a_removed_refused_file_gives_way_to_what_stood_before_it(academy: Academy) -> None:
    path = academy.export("01.csv", good(41) + shot(999, ball="x"))
    academy.night()
    academy.export("01.csv", spoiled(41, 41))
    academy.night()
    (academy.landing / "shots" / path).unlink()
    academy.night()
    assert academy.rows("select status, rows_loaded, latest, in_force from raw.export_file") == [
        ("loaded", 41, True, True)
    ]
    assert academy.rows("select line, latest from raw.rejected_row") == [(43, True)]


def test_an_edited_profile_never_makes_good_data_vanish(academy: Academy) -> None:
    academy.export("01.csv", good(41))
    academy.night()
    academy.profile("plain", '[file]\ntimestamp_format = "%d.%m.%Y %H:%M:%S"\n' + PLAIN)
    (warning,) = academy.night().warnings
    assert "what was loaded from it before stays" in warning
    assert academy.rows("select count(*) from raw.shot") == [(41,)]


@pytest.mark.parametrize("fault", ["decided_at,path\n", "x,y,z,take,\n"])
def test_a_book_of_decisions_that_cannot_be_read_says_where(academy: Academy, fault: Any) -> None:
    decisions.place(academy.landing).write_text(f"{','.join(decisions.COLUMNS)}\n{fault}")
    with pytest.raises(decisions.DecisionFault, match="line 2"):
        decisions.read(academy.landing)
