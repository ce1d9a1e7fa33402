"""Which nights are built: those whose inputs changed, and no others."""

from __future__ import annotations

from datetime import date

import duckdb
import pytest

from warehouse.build import fingerprints, run
from warehouse.schema import entered, raw
from warehouse.settings.settings import Settings

FIRST, SECOND = date(2026, 3, 2), date(2026, 3, 3)
GIVEN = """
insert into raw.site values ('S', 'Somewhere', 'Europe/Lisbon', 0, 2);
insert into raw.bay values ('B1', 'S', 'plain', 'indoor', 'premium', 2), ('B2', 'S', 'plain', 'indoor', 'premium', 3);
insert into raw.student (student_id, name, handed) values ('R', 'Right', 'right'), ('L', 'Left', 'left');
insert into raw.lesson values
    ('l1', 'R', 'k1', 'B1', '2026-03-02 10:00:00', '2026-03-02 11:00:00', 2),
    ('l2', 'R', 'k1', 'B1', '2026-03-03 10:00:00', '2026-03-03 11:00:00', 3);
insert into raw.drill_log values ('l1', 'D1', '2026-03-02 10:20:00', '2026-03-02 10:30:00', 'coach', 2);
insert into raw.shot (night, path, student_id) values ('2026-03-02', 'a', 'L'), ('2026-03-03', 'b', null);
insert into raw.export_file (night, bay_id, path, content_hash, settings_hash, in_force) values
    ('2026-03-02', 'B1', 'a', 'x', 's', true), ('2026-03-03', 'B2', 'b', 'y', 's', true),
    ('2026-03-03', 'B1', 'c', 'z', 's', false);
"""


def as_built(connection: duckdb.DuckDBPyConnection, settings: Settings, audited: bool = True) -> None:
    """Note every night that has to be built as built, and as audited or not."""
    changed = fingerprints.changed(connection, settings)
    connection.execute("create or replace table stage.night (night date)")
    for night, fingerprint in changed.items():
        connection.execute("delete from ops.night where night = ?", [night])
        connection.execute("insert into ops.night values (?, ?, 1)", [night, fingerprints.UNAUDITED + fingerprint])
        connection.execute("insert into stage.night values (?)", [night])
    if audited:
        fingerprints.audited(connection)


@pytest.fixture
def warehouse():
    """Two nights, both built and audited."""
    with duckdb.connect() as connection:
        for schema in ("raw", "stage", "core", "mart", "ops"):
            connection.execute(f"create schema {schema}")
        for table in (*raw.TABLES, *entered.TABLES):
            connection.execute(table.ddl())
        connection.execute(GIVEN)
        run.prepare(connection, Settings())
        assert list(fingerprints.changed(connection, Settings())) == [FIRST, SECOND]
        as_built(connection, Settings())
        yield connection


def test_a_night_whose_inputs_did_not_change_is_not_built_again(warehouse) -> None:
    assert fingerprints.changed(warehouse, Settings()) == {}


@pytest.mark.parametrize(
    ("change", "built"),
    [
        ("update raw.export_file set content_hash = 'other' where path = 'a'", [FIRST]),
        ("update raw.export_file set settings_hash = 'other' where path = 'b'", [SECOND]),
        ("update raw.export_file set content_hash = 'other' where not in_force", []),
        ("update raw.lesson set ends_at = '2026-03-02 10:55:00' where lesson_id = 'l1'", [FIRST]),
        ("update raw.lesson set coach_id = 'k2' where lesson_id = 'l2'", [SECOND]),
        ("update raw.lesson set starts_at = '2026-03-04 10:00', ends_at = '2026-03-04 11:00' where lesson_id = 'l2'",
         [SECOND]),
        ("delete from raw.lesson where lesson_id = 'l1'", [FIRST]),
        ("update raw.lesson set line = line + 1", []),
        ("update raw.drill_log set ends_at = null", [FIRST]),
        ("delete from raw.drill_log", [FIRST]),
        ("insert into raw.entered_drill values (null, 'R', 'B1', 'D1', '2026-03-03 10:20:00', null, 'coach')",
         [SECOND]),
        ("insert into raw.drawn_lot values ('R', 'D1', 'any', 1, '2026-03-02', '2026-03-02 08:00', null, null)",
         [FIRST]),
        ("insert into raw.drawn_lot values ('R', 'D2', 'any', 1, '2026-03-02', '2026-03-02 08:00', null, null)", []),
        ("insert into raw.drawn_lot values ('R', 'D1', 'any', 1, '2026-03-03', '2026-03-03 08:00', null, null)", []),
        ("insert into raw.set_aside values ('B1', 'R', '2026-03-03 10:20:00', null, 'coach hitting')", [SECOND]),
        ("update raw.student set handed = 'left' where student_id = 'R'", [FIRST, SECOND]),
        ("update raw.student set handed = 'right' where student_id = 'L'", [FIRST]),
        ("update raw.student set name = 'Other'", []),
        ("update raw.site set altitude_m = 1600", [FIRST, SECOND]),
        ("update raw.bay set ball = 'range' where bay_id = 'B2'", [SECOND]),
        ("delete from raw.bay where bay_id = 'B1'", [FIRST]),
        ("insert into raw.bay values ('B3', 'S', 'plain', 'indoor', 'premium', 4)", []),
        ("insert into raw.lesson values ('l9', 'R', 'k1', 'B1', '2026-03-02 23:30', '2026-03-03 00:30', 9)",
         [FIRST, SECOND]),
    ],
)  # fmt: skip
def test_a_change_builds_the_nights_it_touches_and_no_others(warehouse, change: str, built: list[date]) -> None:
    warehouse.execute(change)
    assert list(fingerprints.changed(warehouse, Settings())) == built


@pytest.mark.parametrize("change", [{"episodes": {"split_to": 20}}, {"flight": {"range_ball_speed": 0.95}}])
def test_rules_for_episodes_and_flight_build_every_night_again(warehouse, change: dict) -> None:
    assert list(fingerprints.changed(warehouse, Settings.model_validate(change))) == [FIRST, SECOND]


def test_other_settings_build_nothing(warehouse) -> None:
    changed = Settings.model_validate({"academy": {"name": "Other"}, "matters": {"carry": 9.0}})
    assert fingerprints.changed(warehouse, changed) == {}


def test_a_bays_clock_that_was_set_builds_its_nights_again(warehouse) -> None:
    chosen = Settings.model_validate({"bays": {"B1": {"clock_ahead_seconds": 180}}})
    run.prepare(warehouse, chosen)
    assert list(fingerprints.changed(warehouse, chosen)) == [FIRST]


def test_a_night_built_and_not_audited_is_not_built_but_looked_at_again(warehouse) -> None:
    warehouse.execute("update raw.export_file set content_hash = 'other' where path = 'a'")
    as_built(warehouse, Settings(), audited=False)
    assert fingerprints.changed(warehouse, Settings()) == {}
    run.build_nights(warehouse, {}, Settings())
    assert warehouse.execute("from stage.night").fetchall() == [(FIRST,)]
    fingerprints.audited(warehouse)
    run.build_nights(warehouse, {}, Settings())
    assert warehouse.execute("from stage.night").fetchall() == []
    assert fingerprints.changed(warehouse, Settings()) == {}


def test_what_two_files_of_a_night_share_does_not_cancel_out_when_it_changes(warehouse) -> None:
    warehouse.execute(
        "insert into raw.export_file (night, path, content_hash, settings_hash, in_force) "
        "values ('2026-03-02', 'd', 'w', 's', true)"
    )
    as_built(warehouse, Settings())
    warehouse.execute("update raw.export_file set settings_hash = 'other profile' where night = '2026-03-02'")
    assert list(fingerprints.changed(warehouse, Settings())) == [FIRST]


def test_a_corrected_hand_builds_the_night_of_a_student_with_two_lessons(warehouse) -> None:
    warehouse.execute(
        "insert into raw.lesson values ('l3', 'R', 'k1', 'B2', '2026-03-02 12:00:00', '2026-03-02 13:00:00', 4)"
    )
    as_built(warehouse, Settings())
    warehouse.execute("update raw.student set handed = 'left' where student_id = 'R'")
    assert list(fingerprints.changed(warehouse, Settings())) == [FIRST, SECOND]


def test_air_set_for_a_bay_builds_its_nights(warehouse) -> None:
    set_air = Settings(bays={"B1": {"air_density": 1.1}})
    assert list(fingerprints.changed(warehouse, set_air)) == [FIRST]
    as_built(warehouse, set_air)
    assert fingerprints.changed(warehouse, set_air) == {}
    assert list(fingerprints.changed(warehouse, Settings())) == [FIRST]
