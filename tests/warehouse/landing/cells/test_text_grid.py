"""Text files as grids: encodings found, quotes resolved, every physical line with its number."""

from __future__ import annotations

import gzip
from pathlib import Path

import pytest

from warehouse.landing.cells.outside import Origin
from warehouse.landing.cells.read import CellTable, Context, read_cells
from warehouse.landing.cells.text_grid import detected
from warehouse.landing.lines.byte_scan import RefusedError
from warehouse.landing.profile.profile import Profile

TEXT = "Zeit;Schläger;Bälle größer;Abflug\n"


def read(folder: Path, content: bytes, **file: object) -> CellTable:
    """Return a file read cell by cell by a small profile."""
    profile = Profile.model_validate(
        {
            "file": {"delimiter": ";", "header": "find", **file},
            "columns": {
                "struck_at": {"from": "when"}, "club": {"from": "club"}, "ball_speed": {"from": "ball", "unit": "m/s"},
                "launch_angle": {"from": "launch", "unit": "deg"},
            },
        }
    )  # fmt: skip
    path = folder / "x"
    path.write_bytes(content)
    return read_cells(path, content[:2] == b"\x1f\x8b", profile, Origin("x"), Context(), "profiles/x.toml")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "utf-32"])
def test_an_encoding_is_found_in_which_the_text_reads_as_it_was_written(encoding: str) -> None:
    data = (TEXT * 5).encode(encoding)
    assert data.decode(detected(data)).removeprefix("\ufeff") == TEXT * 5


HEAD = "note\n\nwhen;club;ball;launch\n"
ROW = "2024-02-19T10:00:00;driver;60;12"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("packed", [False, True])
def test_lines_keep_their_numbers_whatever_ends_them(tmp_path: Path, end: str, packed: bool) -> None:
    data = (HEAD + ROW + "\n\n" + ROW + "\n").replace("\n", end).encode()
    table = read(tmp_path, gzip.compress(data) if packed else data)
    assert table.frame["line"].to_list() == [4, 6]


def test_a_quoted_cell_may_hold_delimiters_and_ends_of_lines(tmp_path: Path) -> None:
    table = read(tmp_path, (HEAD + '"2024-02-19T10:00:00";"dri\nver";"60;1";12\n' + ROW + "\n").encode())
    assert table.frame["club"].to_list() == ["dri\nver", "driver"]
    assert table.frame["ball_speed"].to_list() == ["60;1", "60"]
    assert table.frame["line"].to_list() == [4, 6]


def test_broken_lines_are_kept_to_be_told(tmp_path: Path) -> None:
    table = read(tmp_path, HEAD.encode() + b'2024;dri"ver;60;12\n' + b"2024;\xff;60;12\n" + (ROW + ";more\n").encode())
    assert table.frame["line"].to_list() == [4, 5, 6]
    first, second, third = table.frame["fault"].to_list()
    assert first == "a quote stands inside an unquoted field"
    assert second == "the line is not utf-8"
    assert third.startswith("5 fields where the header has 4")
    assert table.frame["whole"].null_count() == 0


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "the file is empty"),
        (b"a;b\n1;2\n", "no line names all of 'ball', 'club', 'launch', 'when' (2 columns)"),
        (HEAD.replace(";", "|").encode(), "is the delimiter ';' right"),
    ],
)
def test_a_file_without_its_header_is_refused_with_what_was_found(tmp_path: Path, content: bytes, said: str) -> None:
    with pytest.raises(RefusedError) as raised:
        read(tmp_path, content)
    assert said in str(raised.value)


def test_the_same_row_under_another_header_is_not_the_same_row_again(tmp_path: Path) -> None:
    again = read(tmp_path, (HEAD + ROW + "\n" + ROW + "\n").encode())
    assert again.frame["digest"].n_unique() == 1
    other = read(tmp_path, (HEAD + ROW + "\nwhen;club;launch;ball\n" + ROW + "\n").encode())
    assert other.frame["digest"].n_unique() == 2
