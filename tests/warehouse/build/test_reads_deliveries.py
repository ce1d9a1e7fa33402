"""Deliveries read from tables: a block, one ball, and the nightly reading of latest sessions, by the same rules."""

from __future__ import annotations

from datetime import date, datetime

import duckdb
import polars as pl
import pytest

from warehouse.build import reads_deliveries
from warehouse.domain.delivery.explain import read_deliveries
from warehouse.models.mart import delivery_reading
from warehouse.schema.raw import STUDENT
from warehouse.schema.registry import TABLES, macros
from warehouse.settings.settings import Flight, Settings

NIGHT = date(2031, 3, 3)
STRUCK = datetime(2031, 3, 3, 10, 5, 9)
DELIVERY = {
    "club_speed": 46.0, "attack_angle": -4.0, "dynamic_loft": 11.0, "ball_speed": 66.0, "launch_angle": 8.0,
    "spin_rate": 3000.0, "club_path": -3.0, "face_angle": 2.0, "launch_direction": 1.2, "spin_axis": 9.0,
}  # fmt: skip
PLACE = {"night": NIGHT, "session_id": "L1", "student_id": "S1", "bay_id": "B1", "segment": 0, "club": "driver",
         "club_group": "driver"}  # fmt: skip
BLOCK = {"session_id": "L1", "segment": 0, "club": "driver"}


def give(connection, name, rows):
    """Fill a declared table; columns not given are null."""
    table = TABLES.get(name, STUDENT)
    connection.execute(table.ddl())
    connection.register("given", pl.DataFrame(rows, infer_schema_length=None))
    connection.execute(f"insert into {name} by name select * from given")
    connection.unregister("given")


@pytest.fixture
def tables():
    """One left-hander's block of two balls in thin air, in a bay whose path and attack are off."""
    with duckdb.connect() as connection:
        for schema in ("raw", "core", "mart"):
            connection.execute(f"create schema {schema}")
        for macro in macros(temporary=True):
            connection.execute(macro)
        give(connection, "raw.student", [{"student_id": "S1", "handed": "left", "consent": "yes"}])
        give(connection, "mart.student", [{"student_id": "S1", "handed": "left"}])
        session = {name: PLACE[name] for name in ("night", "session_id", "student_id", "bay_id")}
        give(connection, "core.session", [session | {"begins_at": STRUCK}])
        give(connection, "core.shot", [
            PLACE | DELIVERY | {"path": "p", "line": line, "struck_at_local": STRUCK, "usable": True,
                                "air_density": 1.0, "attack_angle": attack}
            for line, attack in ((2, -5.0), (3, -3.0))
        ])  # fmt: skip
        give(connection, "core.block", [PLACE | {"metric": metric, "shots": 2, "centre": value}
                                        for metric, value in DELIVERY.items()])  # fmt: skip
        give(connection, "core.bay_epoch", [
            {"bay_id": "B1", "metric": metric, "from_date": since, "bay_offset": offset}
            for metric, since, offset in (
                ("club_path", date(1900, 1, 1), 9.0), ("club_path", NIGHT, 1.5), ("club_path", date(2031, 4, 1), 9.0),
                ("attack_angle", date(1900, 1, 1), 0.5), ("spin_rate", date(1900, 1, 1), None),
            )
        ])  # fmt: skip
        yield connection


def expected(settings=None, **changes):
    """Return the sentences of the delivery with the bay's offsets taken off by hand."""
    # A left-hander's path is mirrored, so what the bay adds is taken off with the other sign; attack is not.
    settings = settings or Settings()
    values = DELIVERY | changes
    values |= {"club_path": values["club_path"] + 1.5, "attack_angle": values["attack_angle"] - 0.5}
    high = settings.flight.student_attack_high.get("S1", 5.0)
    frame = pl.DataFrame([values | {"club_group": "driver", "air_density": 1.0, "attack_high": high}])
    return read_deliveries(frame, units=settings.units.system).select("place", "kind", "metric", "cost", "sentence")


def test_a_block_is_read_with_its_bays_offset_off_and_in_its_own_air(tables):
    told = reads_deliveries.read_block(tables, Settings(), **BLOCK)
    assert told.equals(expected())
    assert told.filter(pl.col("metric") == "attack_angle")["sentence"][0].startswith("4.5° down: about ")


def test_one_ball_is_read_as_it_was_struck(tables):
    told = reads_deliveries.read_shot(tables, Settings(), session_id="L1", struck_at_local=STRUCK, path="p", line=3)
    assert told.equals(expected(attack_angle=-3.0))


def test_the_nightly_reading_of_a_session_of_one_block_is_that_blocks(tables):
    frames = {name: tables.execute(select).pl() for name, select in delivery_reading.READS.items()}
    nightly = delivery_reading.rows(frames, Settings())
    assert nightly.select("student_id", "club_group", "session_id").unique().rows() == [("S1", "driver", "L1")]
    assert nightly.select("place", "kind", "metric", "sentence").equals(
        reads_deliveries.read_block(tables, Settings(), **BLOCK).select("place", "kind", "metric", "sentence")
    )


def test_a_students_own_reach_and_the_academys_units_are_used(tables):
    own = Settings(flight=Flight(student_attack_high={"S1": 0.0}), units={"system": "metric"})
    told = reads_deliveries.read_block(tables, own, **BLOCK)
    assert told.equals(expected(own))
    (line,) = told.filter(pl.col("metric") == "attack_angle")["sentence"]
    assert line.endswith("km/h), against level.")


def test_a_block_or_ball_that_is_not_there_reads_as_nothing(tables):
    assert reads_deliveries.read_block(tables, Settings(), **(BLOCK | {"segment": 4})).is_empty()
    nowhere = {"session_id": "L9", "struck_at_local": STRUCK, "path": "p", "line": 3}
    assert reads_deliveries.read_shot(tables, Settings(), **nowhere).is_empty()
