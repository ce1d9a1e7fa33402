"""Line numbers and fields against RFC 4180, blank lines, byte-order marks and encodings."""

from __future__ import annotations

import gzip

import pytest

from tests.warehouse.landing.conftest import HEADER, PLAIN, Academy, shot
from warehouse.landing.lines.normalise_lines import (
    BAD,
    GONE,
    BrokenQuotesError,
    physical_lines,
    records,
    split_fields,
)


@pytest.mark.parametrize(
    ("text", "fields"),
    [
        # RFC 4180, section 2: items 4, 5, 6 and 7 and the ABNF's empty field.
        ("aaa,bbb,ccc", ["aaa", "bbb", "ccc"]),
        ('"aaa","bbb","ccc"', ["aaa", "bbb", "ccc"]),
        ('"aaa","b\nbb","ccc"', ["aaa", "b\nbb", "ccc"]),
        ('"aaa","b""bb","ccc"', ["aaa", 'b"bb', "ccc"]),
        ('"a,aa",,', ["a,aa", "", ""]),
        ('""', [""]),
    ],
)
def test_fields_split_as_in_rfc_4180(text: str, fields: list[str]) -> None:
    assert split_fields(text, ",") == fields


@pytest.mark.parametrize("text", ['a"b,c', '"a"b,c', '"a', 'a,"b'])
def test_quotes_that_rfc_4180_does_not_allow_are_broken(text: str) -> None:
    with pytest.raises(BrokenQuotesError):
        split_fields(text, ",")


def test_lines_end_in_lf_crlf_or_cr_whatever_the_slices() -> None:
    assert list(physical_lines([b"a\r", b"\nb\rc\n", b"\nd"])) == [b"a", b"b", b"c", b"", b"d"]


def test_an_open_quote_spoils_its_line_alone() -> None:
    lines = ["1,2", '"x,3', "4,5", '6,"7', '8"', "9,10"]
    cleaned = list(records(lines, ",", 2))
    assert [line[0] for line in cleaned] == ["1", BAD, "4", "6", GONE, "9"]


def read_lines(academy: Academy) -> list[tuple[int, float, str]]:
    academy.night()
    return academy.rows("select line, ball_speed, student_id from raw.shot order by line")


def test_blank_lines_and_quoted_ends_of_line_keep_line_numbers_true(academy: Academy) -> None:
    two = shot(2).replace("007", '"two\nlines"')
    academy.export("01.csv", "\n" + HEADER + "\n" + shot(1) + "\n\n" + two + shot(3, ball="x") + "\n" + shot(4))
    assert read_lines(academy) == [(4, 60.0, "007"), (7, 60.0, "two\nlines"), (11, 60.0, "007")]
    assert academy.faults() == [(9, "ball_speed", "x", "unparsable")]
    assert academy.rows("select rows_read from raw.export_file") == [(4,)]


def test_blank_lines_without_quotes_keep_line_numbers_true(academy: Academy) -> None:
    academy.export("01.csv", HEADER + "\n" + shot(1) + "\n\n" + shot(3, ball="x") + "\n" + shot(4))
    assert [line for line, *_ in read_lines(academy)] == [3, 8]
    assert academy.faults() == [(6, "ball_speed", "x", "unparsable")]


def test_skipped_rows_count_as_lines(academy: Academy) -> None:
    academy.profile("plain", "[file]\nskip_rows = 2\n" + PLAIN)
    academy.export("01.csv", 'made by "us"\nversion;2\n' + HEADER + shot(1))
    assert read_lines(academy) == [(4, 60.0, "007")]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("quoted", [False, True])
def test_every_end_of_line_reads_alike_with_and_without_a_mark(
    academy: Academy, end: str, mark: str, quoted: bool
) -> None:
    text = HEADER + shot(1) + shot(2).replace("007", '"007"' if quoted else "007")
    academy.export("01.csv", (mark + text).replace("\n", end))
    assert read_lines(academy) == [(2, 60.0, "007"), (3, 60.0, "007")]


def test_mixed_ends_of_line_read_alike(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1).replace("\n", "\r\n") + shot(2).replace("\n", "\r") + shot(3))
    assert [line for line, *_ in read_lines(academy)] == [2, 3, 4]


@pytest.mark.parametrize("encoding", ["latin-1", "cp1252", "utf-16", "utf-8"])
def test_names_read_alike_in_every_encoding(academy: Academy, encoding: str) -> None:
    academy.profile("plain", f'[file]\nencoding = "{encoding}"\n' + PLAIN.replace('from = "who"', 'from = "Élève"'))
    academy.export("01.csv", (HEADER.replace("who", "Élève") + shot(1).replace("007", "Zoë")).encode(encoding))
    assert read_lines(academy) == [(2, 60.0, "Zoë")]


def test_a_badly_encoded_row_is_unparsable_and_its_neighbours_load(academy: Academy) -> None:
    academy.export("01.csv", (HEADER + shot(1)).encode() + shot(2).encode().replace(b"007", b"\xff") + shot(3).encode())
    assert [line for line, *_ in read_lines(academy)] == [2, 4]
    ((line, column, _, reason),) = academy.faults()
    assert (line, column, reason) == (3, None, "unparsable")


def test_a_line_over_the_limit_is_unparsable_and_its_neighbours_load(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1) + shot(2).replace("007", "x" * 3_000_000) + shot(3))
    assert [line for line, *_ in read_lines(academy)] == [2, 4]
    assert academy.rows("select line, reason, detail from raw.rejected_row") == [
        (3, "unparsable", "the line is longer than 65536 characters")
    ]


def test_control_characters_spoil_their_line_alone(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1) + shot(2).replace("007", "\x00\x1f") + shot(3))
    assert [line for line, *_ in read_lines(academy)] == [2, 4]


def test_broken_quotes_spoil_their_line_alone(academy: Academy) -> None:
    academy.export(
        "01.csv", HEADER + shot(1) + shot(2).replace("007", '"007') + shot(3) + shot(4).replace("007", 'a"b')
    )
    assert [line for line, *_ in read_lines(academy)] == [2, 4]
    assert [(line, reason) for line, _, _, reason in academy.faults()] == [(3, "unparsable"), (5, "unparsable")]


def test_a_packed_file_of_several_members_is_read_whole(academy: Academy) -> None:
    packed = gzip.compress((HEADER + shot(1)).encode()) + gzip.compress(shot(2).encode())
    academy.export("01.csv.gz", packed)
    assert [line for line, *_ in read_lines(academy)] == [2, 3]


def test_quoted_delimiters_stay_inside_their_field(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1).replace("007", '"a,""b"""'))
    assert read_lines(academy) == [(2, 60.0, 'a,"b"')]
