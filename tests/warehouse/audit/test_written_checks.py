"""Each written check on its own: quiet where all is well, "
"loud once its fault is made. Found by listing the folder."""

from __future__ import annotations

import duckdb
import pytest

from warehouse.audit import audit
from warehouse.build import run
from warehouse.schema import entered, raw
from warehouse.schema.registry import macros
from warehouse.settings.settings import Settings

NIGHT = "date '2026-03-09'"
SHOT = f"insert into core.shot by name select {NIGHT} as night, 'B1' as bay_id, 40.0 as club_speed, 1.4 as smash_factor"
LESSON = (
    "insert into raw.lesson by name select 'L1' as lesson_id, 'S1' as student_id, "
    "timestamp '2026-03-08 10:00' as starts_at"
)
SESSION = f"insert into core.session by name select 'L1' as session_id, {NIGHT} as night"
LOADED = (
    "insert into raw.export_file by name select "
    f"{NIGHT} as night, '2026-03-09/B1.csv' as path, 'B1' as bay_id, true as in_force, 100 as rows_read, "
    "98 as rows_loaded, 2 as rows_rejected, 0 as rows_duplicate, 0 as rows_set_aside, true as latest"
)
REFUSAL = (
    "insert into ops.rejected_row by name select '2026-03-09/B1.csv' as path, 2 as line, 'missing' as reason "
    "from range(2)"
)
BAY_NIGHT = (
    f"insert into mart.bay_night by name select {NIGHT} as night, 'B1' as bay_id, "
    f"30 as shots, 10 as unattributed, 1 as files, 'reported' as state"
)
HIT = (
    f"insert into raw.shot by name select {NIGHT} as night, {{bay}} as bay_id, 'S1' as student_id, range + 2 as line, "
    "'2026-03-09/' || {bay} || '.csv' as path, timestamp '2026-03-09 10:00' + to_seconds({second}) as struck_at "
    "from range(4)"
)
PRESSURE = (
    "insert into raw.site by name select 'S' as site_id, 1600.0 as altitude_m",
    "insert into raw.bay by name select 'B1' as bay_id, 'S' as site_id, 'outdoor' as setting",
    f"insert into raw.shot by name select {NIGHT} as night, 'B1' as bay_id, "
    f"835.0 as air_pressure, 15.0 as air_temperature",
)
FILE = (
    "insert into ops.export_file by name select "
    f"{NIGHT} as night, '2026-03-09/B1.csv' as path, 'B1' as bay_id, 'loaded' as status, 100 as rows_read, "
    "90 as rows_loaded, 2 as rows_rejected, 1 as rows_duplicate, 7 as rows_set_aside"
)
LOGGED = (
    "insert into mart.drill_log_reading by name select 'L1' as lesson_id, 'D1' as drill_id, "
    f"'as logged' as timing, {NIGHT} as night"
)
ODD = (
    "insert into core.bay_fault by name select {night} as night, 'B1' as bay_id, 'p' as export_profile, 'odd' as cause"
)
PLACEBO = (
    "insert into mart.placebo_check by name select 'transfer' as horizon, 'club_path' as metric, true as is_aim, "
    "40 as placebos, 0.9 as held_share"
)
OFFSET = (
    "insert into mart.bay_offset by name select 'B1' as bay_id, 'club_path' as metric, "
    "date '2026-03-05' as from_date, 'event' as begun_by"
)
BUILT = f"insert into ops.night by name select {NIGHT} as night, 98 as shots"
CASES: dict[str, tuple[tuple[str, ...], str, str]] = {
    "accounting": ((FILE,), "update ops.export_file set rows_loaded = rows_loaded - 1", "2026-03-09/B1.csv"),
    "bay left out": (
        (LOADED, "insert into raw.bay by name select 'B1' as bay_id"),
        "update raw.bay set bay_id = 'B2'",
        "B1, 98 shots",
    ),
    "derived out of limits": (
        (f"{SHOT} from range(200)", f"{SHOT.replace('1.4', 'null::double')} from range(2)"),
        f"{SHOT.replace('1.4', 'null::double')} from range(1)",
        "smash factor",
    ),
    "device changed": (
        (SESSION, OFFSET),
        "update mart.bay_offset set begun_by = 'step nobody logged'",
        "B1 on 2026-03-05",
    ),
    "drill without shots": (
        (LESSON, SESSION, "insert into raw.drill_log by name select 'L1' as lesson_id, 'D1' as drill_id"),
        "update core.session set session_id = 'L2'",
        "L1",
    ),
    "drill without times": (
        (SESSION, LOGGED),
        "update mart.drill_log_reading set timing = 'without times'",
        "L1 D1",
    ),
    "every rejection kept": ((LOADED, REFUSAL), "delete from ops.rejected_row", "2026-03-09/B1.csv"),
    "every shot kept": (
        (LOADED, "insert into raw.bay by name select 'B1' as bay_id", BUILT),
        "update ops.night set shots = 97",
        "2026-03-09",
    ),
    "implausible bay": (
        (SESSION, ODD.format(night=f"{NIGHT} - 8")),
        ODD.format(night=NIGHT),
        "B1, profile p: odd",
    ),
    "many unattributed": ((BAY_NIGHT,), "update mart.bay_night set unattributed = 11", "B1"),
    "placebo drills": ((PLACEBO,), "update mart.placebo_check set held_share = 0.6", "transfer, club_path"),
    "pressure of sea level": (PRESSURE, "update raw.shot set air_pressure = 1013.25", "B1"),
    "refused file": (
        (FILE,),
        "update ops.export_file set status = 'refused', reason = 'the file is empty'",
        "2026-03-09/B1.csv: the file is empty",
    ),
    "silent bay": (
        (BAY_NIGHT,),
        "update mart.bay_night set state = 'silent', shots = 0, unattributed = 0, expected_by = 'lessons'",
        "B1 on 2026-03-09",
    ),
    "student in two bays": (
        (HIT.format(second="range * 20", bay="'B1'"),),
        HIT.format(second="range * 20 + 10", bay="'B2'"),
        "bays B1 and B2 on 2026-03-09, 7 turns",
    ),
    "unknown student": (
        (HIT.format(second="range", bay="'B1'"), "insert into raw.student by name select 'S1' as student_id"),
        "update raw.student set student_id = 'S2'",
        "bay B1, 2026-03-09/B1.csv: 4 shots of 1 ids, the first on line 2",
    ),
}  # fmt: skip
"""Check -> what is there where all is well, the fault made then, the example that is told."""


@pytest.fixture(scope="module")
def database():
    """An empty warehouse in memory, in which the night of the cases is being built."""
    with duckdb.connect() as connection:
        for schema in ("raw", "stage", "core", "mart", "ops"):
            connection.execute(f"create schema {schema}")
        for table in (*raw.TABLES, *entered.TABLES):
            connection.execute(table.ddl())
        for macro in macros(temporary=True):
            connection.execute(macro)
        run.prepare(connection, Settings())
        connection.execute(f"create table stage.night as select {NIGHT} as night")
        yield connection


def written() -> dict[str, audit.Check]:
    return {check.name: check for check in audit.written()}


def test_every_written_check_has_a_case() -> None:
    assert set(CASES) == set(written())


@pytest.mark.parametrize("name", sorted(written()))
def test_a_written_check_is_quiet_where_all_is_well_and_finds_its_fault(database, name: str) -> None:
    well, fault, example = CASES[name]
    check = written()[name]
    database.execute("begin")
    try:
        for statement in well:
            database.execute(statement)
        assert audit.run(database, (check,)) == []
        database.execute(fault)
        (found,) = audit.run(database, (check,))
        assert found.example == example
    finally:
        database.execute("rollback")
