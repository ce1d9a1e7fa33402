"""Dagster's pages show what a table holds and what a run came to, by the keys that they know; nobody is to sign up."""

from __future__ import annotations

from datetime import datetime

import dagster as dg
import pytest
import yaml

from pipelines.definitions import definitions
from pipelines.graph import table_metadata
from pipelines.runs import one_machine
from tests.pipelines.nights.test_small_academies import PROFILE, TABLES, every_minute, export, write
from warehouse.home import Home
from warehouse.schema.registry import TABLES as DECLARED


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Home:
    """A home with one night."""
    made = Home(tmp_path_factory.mktemp("graph") / "home")
    for name, text in TABLES.items():
        write(made.landing / "academy" / f"{name}.csv", text)
    write(made.landing / "profiles" / "plain.toml", PROFILE)
    export(made, *every_minute(datetime(2026, 3, 29, 2, 5), 30))
    return made


def test_every_published_table_tells_its_columns(home: Home) -> None:
    specs = {spec.key.to_user_string().replace("/", "."): spec for spec in definitions(home).resolve_all_asset_specs()}
    for name in ("core.shot", "mart.drill_effect", "raw.shot"):
        schema = specs[name].metadata[table_metadata.COLUMN_SCHEMA]
        assert isinstance(schema, dg.TableSchema) and all(column.description for column in schema.columns)
    told = [column.name for column in specs["mart.student"].metadata[table_metadata.COLUMN_SCHEMA].columns]
    assert told == list(DECLARED["mart.student"].column_names)


def test_a_night_tells_rows_seconds_and_faults_as_numbers(home: Home) -> None:
    assert one_machine.run(home).outcome in {0, 3}
    with dg.DagsterInstance.get() as instance:
        event = instance.get_latest_materialization_event(dg.AssetKey(["mart", "student"]))
        said = event.asset_materialization.metadata
        assert said[table_metadata.ROW_COUNT].value == 1
        assert said["seconds to make"].value >= 0
        shots = instance.get_latest_materialization_event(dg.AssetKey(["core", "shot"])).asset_materialization
        assert shots.metadata[table_metadata.ROW_COUNT].value == 30


def test_the_first_page_asks_nobody_to_sign_up() -> None:
    assert yaml.safe_load(one_machine.INSTANCE)["nux"] == {"enabled": False}
