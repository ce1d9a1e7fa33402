"""Rows that are rejected, each once with its first fault, its line and its value; their neighbours load."""

from __future__ import annotations

import json

import pytest

from tests.warehouse.landing.conftest import ANY_LOSS, HEADER, PLAIN, Academy, shot

SITE_DAY = "2024-02-19T10:00:05,007,"


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        (shot(5, ball="sixty"), ("ball_speed", "sixty", "unparsable")),
        (shot(5, ball="nan"), ("ball_speed", "nan", "unparsable")),
        (shot(5, ball="inf"), ("ball_speed", "inf", "unparsable")),
        (shot(5, ball="1_0"), ("ball_speed", "1_0", "unparsable")),
        (shot(5, carry='"1,200"'), ("carry", "1,200", "unparsable")),
        (shot(5, carry="12..4"), ("carry", "12..4", "unparsable")),
        (shot(5).replace("10:00:05", "25:00:05"), ("struck_at", "2024-02-19T25:00:05", "unparsable")),
        (shot(5).rstrip("\n") + ",extra\n", (None, shot(5).rstrip("\n") + ",extra", "unparsable")),
        (shot(5, ball=""), ("ball_speed", "", "missing")),
        (shot(5, club=""), ("club", "", "missing")),
        (SITE_DAY + "driver\n", ("launch_angle", None, "missing")),
        (shot(5, ball=101), ("ball_speed", "101", "outside limits")),
        (shot(5, carry=-1), ("carry", "-1", "outside limits")),
        (shot(86400), ("struck_at", "2024-02-20T10:00:00", "outside its night")),
        (shot(5, club="putter"), ("club", "putter", "unknown club")),
        (shot(5, ball="x", launch="", club="putter"), ("ball_speed", "x", "unparsable")),
        (shot(5, ball=101, launch=""), ("launch_angle", "", "missing")),
        (shot(86400, ball=101), ("ball_speed", "101", "outside limits")),
        (shot(86400, club="putter"), ("struck_at", "2024-02-20T10:00:00", "outside its night")),
    ],
)  # fmt: skip
def test_a_row_is_rejected_with_its_first_fault_and_its_neighbours_load(
    academy: Academy, line: str, fault: tuple[str | None, str | None, str]
) -> None:
    academy.export("01.csv", HEADER + shot(1) + line + shot(9))
    summary = academy.night()
    assert academy.faults() == [(3, *fault)]
    assert academy.rows("select line, ball_speed from raw.shot order by line") == [(2, 60.0), (4, 60.0)]
    assert (summary.rows("read"), summary.rows("loaded"), summary.rows("rejected")) == (3, 2, 1)


@pytest.mark.parametrize("value", ["70", "7e1", "+70", " 70 ", "70."])
def test_plain_numbers_are_read(academy: Academy, value: str) -> None:
    academy.export("01.csv", HEADER + shot(1, ball=value))
    academy.night()
    assert academy.rows("select ball_speed from raw.shot") == [(70.0,)]


def test_with_a_decimal_comma_a_full_stop_is_unparsable(academy: Academy) -> None:
    academy.profile("plain", "[file]\ndelimiter = ';'\ndecimal = ','\n" + PLAIN)
    lines = [shot(n, ball="@").replace(",", ";") for n in range(4)]
    values = ["60,5", "60.5", "1.060,5", "60"]
    body = "".join(line.replace("@", value) for line, value in zip(lines, values, strict=True))
    academy.export("01.csv", HEADER.replace(",", ";") + body)
    academy.night()
    assert academy.rows("select line, ball_speed from raw.shot order by line") == [(2, 60.5), (5, 60.0)]
    assert academy.faults() == [(3, "ball_speed", "60.5", "unparsable"), (4, "ball_speed", "1.060,5", "unparsable")]


def test_exact_duplicates_are_counted_before_rejection(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1) + shot(2, ball="x") + shot(1) + shot(2, ball="x") + shot(2, ball="x"))
    (outcome,) = academy.night().outcomes
    counts = outcome.counts
    assert (counts.read, counts.loaded, counts.rejected, counts.duplicate) == (5, 1, 1, 3)
    assert academy.faults() == [(3, "ball_speed", "x", "unparsable")]


def test_the_same_row_in_two_files_is_no_duplicate(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1))
    academy.export("02.csv", HEADER + shot(1))
    assert academy.night().rows("duplicate") == 0
    assert academy.rows("select bay_id, line from raw.shot order by all") == [("01", 2), ("02", 2)]


def test_null_tokens_are_nulls_and_only_those_of_the_profile(academy: Academy) -> None:
    academy.profile("plain", '[file]\nnulls = ["-", "n/a"]\n' + PLAIN)
    academy.export(
        "01.csv", HEADER + shot(1, carry="-") + shot(2, carry=" n/a ") + shot(3, carry="") + shot(4, carry="NA")
    )
    academy.night()
    assert academy.rows("select line, carry from raw.shot order by line") == [(2, None), (3, None), (4, None)]
    assert academy.faults() == [(5, "carry", "NA", "unparsable")]


def test_empty_fields_beyond_the_header_do_not_count_as_too_many(academy: Academy) -> None:
    academy.export("01.csv", HEADER + shot(1).replace("\n", ",\n"))
    assert academy.night().rows_loaded == 1


def test_clubs_and_students_are_mapped_and_nothing_else_is_a_club(academy: Academy) -> None:
    mapped = PLAIN.replace('from = "club"', 'from = "club", map = { "Holz 1" = "driver" }')
    academy.profile("plain", mapped.replace('from = "who", optional = true', 'from = "who", map = { "007" = "7" }'))
    academy.export("01.csv", HEADER + shot(1, club="Holz 1") + shot(2, club="driver"))
    academy.night()
    assert academy.rows("select club, student_id from raw.shot") == [("driver", "7")]
    assert academy.faults() == [(3, "club", "driver", "unknown club")]


def test_a_broken_json_line_is_unparsable_and_its_neighbours_load(academy: Academy) -> None:
    academy.profile("plain", '[file]\nformat = "jsonl"\n' + PLAIN)
    good = {"time": "2024-02-19T10:00:00", "who": "007", "club": "driver", "ball": 60, "launch": 12.5, "carry": None}
    lines = [
        json.dumps(good),
        '{"time": "2024-02-19',
        "",
        "[1]",
        json.dumps(good | {"ball": [1]}),
        json.dumps({key: value for key, value in good.items() if key != "launch"}),
        json.dumps(good | {"ball": "61.5"}),
    ]
    academy.export("01.jsonl", "\n".join(lines))
    summary = academy.night(limits=ANY_LOSS)
    assert academy.rows("select line, ball_speed, launch_angle, carry, student_id from raw.shot order by line") == [
        (1, 60.0, 12.5, None, "007"),
        (7, 61.5, 12.5, None, "007"),
    ]
    assert academy.faults() == [
        (2, None, '{"time": "2024-02-19', "unparsable"),
        (4, None, "[1]", "unparsable"),
        (5, "ball_speed", "[1]", "unparsable"),
        (6, "launch_angle", None, "missing"),
    ]
    assert summary.rows("read") == 6


def test_parquet_of_numbers_or_of_text_reads_alike(academy: Academy) -> None:
    academy.profile("plain", '[file]\nformat = "parquet"\ntimezone = "UTC"\n' + PLAIN)
    folder = academy.landing / "shots" / "2024-02-19"
    folder.mkdir(parents=True)
    values = "('60.5', 'driver'), ('101', 'driver'), ('60.5', 'putter'), ('nan', 'driver'), ('60.5', 'driver')"
    for bay, number, time in (("01", "double", "timestamp"), ("02", "varchar", "varchar")):
        academy.con.execute(
            f"copy (select '2024-02-19 10:00:00'::{time} as time, '007' as who, club, ball::{number} as ball, "
            f"12::{number} as launch from (values {values}) as v(ball, club)) "
            f"to '{folder / bay}.parquet'"
        )
    academy.night(limits=ANY_LOSS)
    for bay in ("01", "02"):
        assert academy.rows(f"select line, ball_speed, struck_at::varchar from raw.shot where bay_id = '{bay}'") == [
            (1, 60.5, "2024-02-19 10:00:00")
        ]
        assert academy.rows(
            f"select line, column_name, reason from raw.rejected_row where bay_id = '{bay}' order by line"
        ) == [(2, "ball_speed", "outside limits"), (3, "club", "unknown club"), (4, "ball_speed", "unparsable")]
    assert academy.rows("select rows_duplicate from raw.export_file") == [(1,), (1,)]
