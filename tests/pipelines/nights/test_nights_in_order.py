"""The sample academy night by night: what arrives late, again, broken or not at all, and what is published."""

from __future__ import annotations

import json
from datetime import date

import duckdb
import polars as pl

from demo_data.generate import SAMPLE_FOLDER
from pipelines.runs.one_machine import Outcome
from tests.pipelines.nights.conftest import SPOILED, Term, differing, rows

PLANTED = pl.read_csv(SAMPLE_FOLDER / "planted_truth" / "files.csv", schema_overrides={"bay_id": pl.String})


def test_every_night_is_published_with_what_warned(term: Term) -> None:
    assert [night.outcome for night in term.nights] == [Outcome.PUBLISHED_WITH_WARNINGS] * 4
    assert [night.through for night in term.nights] == [date(2026, 1, 8), *[date(2026, 1, 11)] * 3]
    assert any("compression ends early" in warning for warning in term.nights[0].warnings)
    assert any("2026-01-08/01.csv refused" in warning for warning in term.nights[0].warnings)
    assert any("bay '99' is not in bays.csv" in warning for warning in term.nights[1].warnings)
    assert not any("compression" in warning for warning in term.nights[3].warnings)


def test_the_last_run_is_told_beside_the_published_file(term: Term) -> None:
    told = json.loads(term.home.last_run.read_text())
    assert (told["outcome"], told["through_night"]) == ("published with warnings", "2026-01-11")
    assert told["warnings"] == term.nights[-1].warnings


def test_every_file_is_accounted_for_as_it_was_planted(term: Term) -> None:
    arrived = PLANTED.filter(~(pl.struct("path").is_duplicated() & (pl.col("delivery") == "first")))
    rejected = [name for name in PLANTED.columns if name.startswith("rejected_")]
    expected = {
        row["path"]: (row["rows_read"], row["rows_loaded"], sum(row[name] for name in rejected), row["rows_duplicate"],
                      "refused" if row["refused"] else "loaded")
        for row in arrived.iter_rows(named=True)
    }  # fmt: skip
    found = term.ask(
        3, "select path, rows_read, rows_loaded, rows_rejected, rows_duplicate, status from ops.export_file"
    )
    assert {row[0]: row[1:] for row in found} == expected


def test_a_late_file_and_a_corrected_one_replace_their_bays_night(term: Term) -> None:
    counted = "select count(*) from core.shot where path = '{}'"
    late, corrected, mended = "2026-01-07/06.csv", "2026-01-05/02.tsv", "2026-01-05/03.csv.gz"
    assert [term.ask(night, counted.format(late))[0][0] for night in range(4)] == [0, 0, 84, 84]
    assert [term.ask(night, counted.format(corrected))[0][0] for night in range(4)] == [25, 49, 49, 49]
    assert [term.ask(night, counted.format(mended))[0][0] for night in range(4)] == [0, 40, 40, 40]


def test_a_refused_second_export_keeps_the_last_good_one_with_a_warning(term: Term) -> None:
    counted = f"select count(*) from core.shot where path = '{SPOILED}'"
    status = f"select status, rows_loaded from ops.export_file where path = '{SPOILED}'"
    assert [term.ask(night, counted)[0][0] for night in range(4)] == [115] * 4
    assert [term.ask(night, status)[0] for night in range(3)] == [("loaded", 115), ("refused", 0), ("loaded", 115)]
    (warning,) = [one for one in term.nights[1].warnings if one.startswith(f"shots/{SPOILED}")]
    assert "what was loaded from it before stays" in warning


def test_a_second_run_builds_no_night_and_changes_no_row(term: Term) -> None:
    built = term.ask(3, "select nights_built from ops.publication order by published_at")
    assert [nights for (nights,) in built] == [4, 4, 1, 0]
    assert term.files[2] != term.files[3]
    assert differing(rows(term.files[2]), rows(term.files[3])) == {}


def test_night_by_night_and_a_rebuild_elsewhere_agree_row_for_row(term: Term, rebuilt: Term) -> None:
    assert rebuilt.nights[0].outcome == Outcome.PUBLISHED_WITH_WARNINGS
    assert differing(rows(term.files[3]), rows(rebuilt.files[0])) == {}


def test_a_rebuild_keeps_when_things_were_published(term: Term, rebuilt: Term) -> None:
    published = "select published_at from ops.publication order by published_at"
    before, after = term.ask(3, published), rebuilt.ask(0, published)
    assert after[:-1] == before
    assert rebuilt.ask(0, "select nights_built from ops.publication order by published_at desc limit 1") == [(7,)]


def test_a_home_that_was_copied_opens_and_holds_no_absolute_link(term: Term, rebuilt: Term) -> None:
    link = rebuilt.home.current.readlink()
    assert not link.is_absolute()
    assert rebuilt.home.path not in term.home.path.parents
    with duckdb.connect(str(rebuilt.home.current.resolve()), read_only=True) as opened:
        assert opened.execute("select count(*) > 3000 from core.shot").fetchone() == (True,)


def test_descriptions_units_and_macros_stand_in_the_published_file(term: Term) -> None:
    (comment,) = term.ask(
        3, "select comment from duckdb_columns() where table_name = 'shot' and column_name = 'attack_angle'"
    )
    assert "[deg]" in comment[0]
    assert term.ask(3, "select round(mph(44.704)), round(yd(91.44))") == [(100.0, 100.0)]
    undescribed = "select table_name, column_name from duckdb_columns() where schema_name in ('core', 'mart', 'ops') "
    assert term.ask(3, undescribed + "and coalesce(comment, '') = ''") == []


def test_the_published_file_holds_declared_tables_and_nothing_of_raw(term: Term) -> None:
    from warehouse.schema.registry import TABLES

    found = {name for (name,) in term.ask(3, "select schema_name || '.' || table_name from duckdb_tables()")}
    assert found == set(TABLES)


def test_shots_are_one_for_one_with_the_rows_loaded(term: Term) -> None:
    (counts,) = term.ask(
        3, "select (select count(*) from core.shot), (select sum(rows_loaded) from ops.export_file "
        "where status = 'loaded')"
    )  # fmt: skip
    assert counts[0] == counts[1] > 3000
