"""What several workers share on one PostgreSQL: leases, Dagster's runs and queue, the notebook."""

from __future__ import annotations

import multiprocessing
from datetime import datetime
from pathlib import Path

import dagster as dg
import pytest
import yaml

from pipelines.lakehouse.instance import SITE_TAG, dagster_yaml, make_room
from tests.clock import PATIENCE
from tests.postgres_server import PostgresServer
from warehouse.connection import HomeIsBusy
from warehouse.home import Home
from warehouse.lakehouse import lease
from warehouse.landing import notebook_entries
from warehouse.notebook import store
from warehouse.settings.lakehouse import Lakehouse
from warehouse.settings.settings import Settings


@pytest.fixture
def settings(postgres: PostgresServer) -> Settings:
    """Settings of a home on the server."""
    return Settings(lakehouse=Lakehouse(catalog=postgres.url, catalog_schema="shared", workers=3))


def hold_for_ever(home: Home, settings: Lakehouse, what: str, taken) -> None:
    """Hold a lease until killed."""
    with lease.held(home, settings, what):
        taken.set()
        multiprocessing.Event().wait()


def test_a_lease_is_held_by_one_and_goes_with_its_process(tmp_path: Path, settings: Settings) -> None:
    home, what = Home(tmp_path), lease.site("low")
    context = multiprocessing.get_context("spawn")
    taken = context.Event()
    holder = context.Process(target=hold_for_ever, args=(home, settings.lakehouse, what, taken))
    holder.start()
    assert taken.wait(PATIENCE)
    with pytest.raises(HomeIsBusy, match="site low"), lease.held(home, settings.lakehouse, what):
        pass
    with lease.held(home, settings.lakehouse, lease.site("high")) as still_held:
        assert still_held()
    holder.kill()
    holder.join()
    with lease.held(home, settings.lakehouse, what, wait=True) as still_held:
        assert still_held()


def test_a_lease_is_taken_again_after_the_server_was_away(
    tmp_path: Path, settings: Settings, postgres: PostgresServer
) -> None:
    with lease.held(Home(tmp_path), settings.lakehouse, "mine") as still_held:
        postgres.stop()
        postgres.start()
        assert still_held()
        with pytest.raises(HomeIsBusy), lease.held(Home(tmp_path), settings.lakehouse, "mine"):
            pass


def test_runs_are_kept_on_the_server_and_queued_one_a_site(tmp_path: Path, settings: Settings, monkeypatch) -> None:
    (tmp_path / "dagster.yaml").write_text(dagster_yaml(settings), encoding="utf-8")
    make_room(settings)
    monkeypatch.setenv("DAGSTER_HOME", str(tmp_path))
    with dg.DagsterInstance.get() as instance:
        assert "Postgres" in type(instance.run_storage).__name__
        assert "Postgres" in type(instance.event_log_storage).__name__
        assert "Postgres" in type(instance.schedule_storage).__name__
        queue = instance.get_concurrency_config().run_queue_config
        assert queue.max_concurrent_runs == 3
        assert {limit["key"] for limit in queue.tag_concurrency_limits} == {SITE_TAG, "academy/publication"}
        instance.add_dynamic_partitions("site", ["low"])
    with dg.DagsterInstance.get() as instance:
        assert list(instance.get_dynamic_partitions("site")) == ["low"]
    # Another home in the same database sees nothing of it.
    other = Settings(lakehouse=settings.lakehouse.model_copy(update={"catalog_schema": "other"}))
    (tmp_path / "dagster.yaml").write_text(dagster_yaml(other), encoding="utf-8")
    make_room(other)
    with dg.DagsterInstance.get() as instance:
        assert list(instance.get_dynamic_partitions("site")) == []


def test_dagster_s_settings_hold_no_password(settings: Settings) -> None:
    said = yaml.safe_load(dagster_yaml(settings))
    assert said["storage"]["postgres"]["postgres_url"].startswith("postgresql+psycopg2://academy@127.0.0.1")
    assert said["telemetry"] == {"enabled": False}


def test_the_notebook_on_the_server_takes_an_entry_and_its_correction_and_the_night_reads_them(
    postgres: PostgresServer,
) -> None:
    import duckdb

    url = postgres.sqlalchemy_url
    opened = store.open_store(url)
    try:
        at = datetime(2026, 1, 7, 17, 20)
        first = store.enter(opened, "set_aside", "coach", {
            "bay_id": "01", "student_id": "0133", "starts_at": at, "ends_at": None, "kind": "coach hitting",
        })  # fmt: skip
        again = store.open_store(url)
        store.correct(again, "set_aside", first, "front office", ends_at=at.replace(minute=30))
        again.close()
        assert store.history(opened, "set_aside").height == 2
        with duckdb.connect() as connection:
            connection.execute("attach ':memory:' as raw")
            counts = notebook_entries.load(connection, url)
            columns = "bay_id, student_id, starts_at, ends_at, kind"
            rows = connection.execute(f"select {columns} from raw.set_aside").fetchall()
        assert counts["raw.set_aside"] == 1
        assert rows == [("01", "0133", at, at.replace(minute=30), "coach hitting")]
    finally:
        opened.close()
