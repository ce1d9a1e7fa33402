"""Exports that are refused whole, each with its reason and remedy in words, and none of its rows loaded."""

from __future__ import annotations

import gzip

import pytest

from tests.warehouse.landing.conftest import HEADER, PLAIN, Academy, shot
from warehouse.settings.settings import Limits


def test_an_empty_file_is_refused(academy: Academy) -> None:
    assert "the file is empty" in academy.reason("01.csv", "")


@pytest.mark.parametrize("content", ["\n\n", "\ufeff", "\ufeff\r\n"])
def test_a_file_of_blank_lines_or_a_mark_alone_is_empty(academy: Academy, content: str) -> None:
    assert "the file is empty" in academy.reason("01.csv", content)


def test_a_file_that_ends_in_its_skipped_rows_is_refused(academy: Academy) -> None:
    academy.profile("plain", "[file]\nskip_rows = 3\n" + PLAIN)
    assert "before a header after 3 skipped rows" in academy.reason("01.csv", "a\nb\n")


@pytest.mark.parametrize("kept", [0.3, 0.9])
def test_compression_that_ends_early_is_refused(academy: Academy, kept: float) -> None:
    packed = gzip.compress((HEADER + "".join(shot(n) for n in range(500))).encode())
    assert "ends early" in academy.reason("01.csv.gz", packed[: int(len(packed) * kept)])


def test_compression_without_its_last_byte_is_refused(academy: Academy) -> None:
    assert "ends early" in academy.reason("01.csv.gz", gzip.compress((HEADER + shot(1)).encode())[:-1])


def test_compression_with_a_flipped_byte_is_refused(academy: Academy) -> None:
    packed = bytearray(gzip.compress((HEADER + "".join(shot(n) for n in range(500))).encode()))
    packed[len(packed) // 2] ^= 0xFF
    assert "compression is broken" in academy.reason("01.csv.gz", bytes(packed))


def test_a_plain_file_named_gz_is_refused(academy: Academy) -> None:
    assert "compression is broken" in academy.reason("01.csv.gz", HEADER + shot(1))


def test_a_wrong_delimiter_is_named_with_the_right_one(academy: Academy) -> None:
    reason = academy.reason("01.csv", (HEADER + shot(1)).replace(",", ";"))
    assert "no column 'time', 'club', 'launch', 'ball' in the header" in reason or "no column 'time'" in reason
    assert "is the delimiter ',' right? the header splits at ';'" in reason
    assert "profiles/plain.toml" in reason


def test_a_missing_required_column_is_named(academy: Academy) -> None:
    assert "no column 'ball'" in academy.reason("01.csv", "time,who,club,launch\n2024-02-19T10:00:00,007,driver,12\n")


def test_a_mapped_name_that_stands_twice_is_refused(academy: Academy) -> None:
    assert "names 'ball' twice" in academy.reason("01.csv", "time,club,ball,ball,launch\n")


def test_an_unknown_bay_is_refused(academy: Academy) -> None:
    assert "bay '09' is not in bays.csv" in academy.reason("09.csv", HEADER + shot(1))


def test_the_exports_of_an_unknown_bay_are_one_warning_with_their_number(academy: Academy) -> None:
    for night in ("2024-02-17", "2024-02-18", "2024-02-19"):
        academy.export("09.csv", HEADER + shot(1), night)
    academy.export("10.csv", HEADER + shot(1))
    summary = academy.night()
    assert sorted(one.status for one in summary.outcomes) == ["refused"] * 4
    remedy = "add it there, or correct the file's name"
    assert sorted(summary.warnings) == [
        f"shots/2024-02-17/09.csv and 2 more refused: bay '09' is not in bays.csv: {remedy}",
        f"shots/2024-02-19/10.csv refused: bay '10' is not in bays.csv: {remedy}",
    ]


def test_a_file_of_another_format_is_refused(academy: Academy) -> None:
    assert "reads csv" in academy.reason("01.parquet", b"PAR1PAR1")


def test_half_a_parquet_file_is_refused(academy: Academy) -> None:
    academy.profile("plain", '[file]\nformat = "parquet"\n' + PLAIN)
    path = academy.landing / "whole.parquet"
    academy.con.execute(f"copy (select 1 as time) to '{path}'")
    whole = path.read_bytes()
    path.unlink()
    assert "no whole parquet file" in academy.reason("01.parquet", whole[: len(whole) // 2])


def test_a_utf16_file_under_a_utf8_profile_says_so(academy: Academy) -> None:
    assert "begins like UTF-16" in academy.reason("01.csv", (HEADER + shot(1)).encode("utf-16"))


@pytest.mark.parametrize("encoding", ["utf-16", "utf-32"])
def test_a_file_without_the_mark_that_its_encoding_needs_says_which_encoding_would_read_it(
    academy: Academy, encoding: str
) -> None:
    academy.profile("plain", f'[file]\nencoding = "{encoding}"\n' + PLAIN)
    reason = academy.reason("01.csv", (HEADER + shot(1)).encode(f"{encoding}-le"))
    assert reason.startswith(f"begins without the byte-order mark of {encoding}: ")
    assert f'encoding = "{encoding}-le"' in reason


def test_a_latin1_header_under_a_utf8_profile_says_so(academy: Academy) -> None:
    academy.profile("plain", PLAIN.replace('from = "club"', 'from = "Schläger"'))
    reason = academy.reason("01.csv", (HEADER.replace("club", "Schläger") + shot(1)).encode("latin-1"))
    assert "header is not utf-8" in reason


def test_a_bad_profile_refuses_only_its_own_bays_files(academy: Academy) -> None:
    academy.table(
        "bays", "bay_id,site_id,export_profile,setting,ball\n01,N,plain,indoor,range\n02,N,bad,indoor,range\n"
    )
    academy.profile("bad", PLAIN.replace('"m" ,', '"m",').replace('carry", unit = "m"', 'carry", unit = "yards"'))
    academy.export("01.csv", HEADER + shot(1))
    academy.export("02.csv", HEADER + shot(1))
    summary = academy.night()
    assert [outcome.status for outcome in sorted(summary.outcomes, key=lambda one: one.file.path)] == [
        "loaded",
        "refused",
    ]
    assert any(
        "profiles/bad.toml: columns.carry.unit: 'yards' is not one of m, yd" in said for said in summary.warnings
    )


def test_a_link_out_of_the_landing_folder_is_refused(academy: Academy) -> None:
    outside = academy.landing.parent / "elsewhere.csv"
    outside.write_text(HEADER + shot(1))
    folder = academy.landing / "shots" / "2024-02-19"
    folder.mkdir(parents=True)
    (folder / "01.csv").symlink_to(outside)
    (outcome,) = academy.night().outcomes
    assert outcome.status == "refused"
    assert "leads out of the landing folder" in str(outcome.reason)


def test_a_file_that_unpacks_beyond_all_measure_is_refused(academy: Academy) -> None:
    academy.export("01.csv.gz", gzip.compress((HEADER + "\n" * 30_000_000).encode()))
    (outcome,) = academy.night(limits=Limits(compression_ratio=100)).outcomes
    assert "grows more than 100-fold" in str(outcome.reason)


def test_a_file_over_the_size_limit_is_refused_and_tried_again_under_another(academy: Academy) -> None:
    academy.export("01.csv", HEADER + "".join(shot(n) for n in range(30_000)))
    small = Limits(file_megabytes=1)
    (outcome,) = academy.night(limits=small).outcomes
    assert "larger than 1 megabytes" in str(outcome.reason)
    (outcome,) = academy.night(limits=Limits()).outcomes
    assert outcome.status == "loaded"
