"""When a home on the lakehouse starts runs: a site's every night and when its files change, then one that publishes."""

from __future__ import annotations

import os
import uuid
from datetime import datetime
from pathlib import Path

import dagster as dg
import pytest
from dagster._core.definitions.partitions.context import partition_loading_context

from pipelines.definitions import definitions
from pipelines.lakehouse import automation
from pipelines.lakehouse.assets import site_tags
from pipelines.lakehouse.definitions import PUBLISH_JOB, SITES_JOB
from pipelines.lakehouse.instance import PUBLICATION_TAG, SITE_TAG
from tests.pipelines.lakehouse.conftest import landed, on_lakehouse
from warehouse.home import Home
from warehouse.lakehouse import lease
from warehouse.settings.settings import load

SITES = ["low", "site-02", "site-03", "site-04", "site-05", "site-06"]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Home:
    """Six sites on a lakehouse; nothing has run."""
    return Home(on_lakehouse(landed(tmp_path_factory.mktemp("starts")), "catalog.ducklake"))


@pytest.fixture(scope="module")
def defined(home: Home) -> dg.RepositoryDefinition:
    """The definitions that the section of academy.toml chooses."""
    return definitions(home).get_repository_def()


def test_the_assets_of_publication_are_those_of_one_machine_and_the_sites_are_before_them(
    defined: dg.RepositoryDefinition, tmp_path: Path
) -> None:
    one = definitions(Home(tmp_path)).resolve_asset_graph()
    many = defined.asset_graph
    added = {"lake/site_nights", "lake/tables"}
    assert {key.to_user_string() for key in many.get_all_asset_keys() - one.get_all_asset_keys()} == added
    assert one.get_all_asset_keys() <= many.get_all_asset_keys()
    assert many.external_asset_keys == set()
    assert one.asset_check_keys == many.asset_check_keys
    assert {job.name for job in defined.get_all_jobs()} >= {SITES_JOB, PUBLISH_JOB}


def test_every_night_asks_for_one_run_a_site(defined: dg.RepositoryDefinition, tmp_path: Path) -> None:
    with dg.DagsterInstance.local_temp(str(tmp_path)) as instance:
        context = dg.build_schedule_context(
            instance=instance, scheduled_execution_time=datetime(2026, 1, 12, 2, 30), repository_def=defined
        )
        asked = defined.get_schedule_def("every_night").evaluate_tick(context).run_requests
        assert sorted(instance.get_dynamic_partitions("site")) == SITES
    assert sorted(request.partition_key for request in asked) == SITES
    assert all(request.tags[SITE_TAG] == request.partition_key for request in asked)
    assert len({request.run_key for request in asked}) == len(SITES)


def test_a_file_that_changes_asks_for_its_site_alone(
    defined: dg.RepositoryDefinition, home: Home, tmp_path: Path
) -> None:
    sensor = defined.get_sensor_def("late_or_changed_files")
    with dg.DagsterInstance.local_temp(str(tmp_path)) as instance, partition_loading_context(None, instance):
        first = sensor.evaluate_tick(dg.build_sensor_context(instance=instance, repository_def=defined))
        assert sorted(request.partition_key for request in first.run_requests) == SITES
        os.utime(home.landing / "shots" / "2026-01-07" / "04.parquet", (1_800_000_000, 1_800_000_000))
        context = dg.build_sensor_context(instance=instance, cursor=first.cursor, repository_def=defined)
        assert [request.partition_key for request in sensor.evaluate_tick(context).run_requests] == ["site-04"]


def site_run(instance: dg.DagsterInstance, status: dg.DagsterRunStatus) -> str:
    """Note a run of the first site with a status."""
    run = dg.DagsterRun(job_name=SITES_JOB, run_id=str(uuid.uuid4()), tags=site_tags("low"))
    instance.add_run(run.with_status(status))
    return run.run_id


def test_publication_waits_for_the_sites_and_not_for_those_that_failed(defined: dg.RepositoryDefinition) -> None:
    sensor = defined.get_sensor_def("publish_when_sites_are_done")

    def asked(instance: dg.DagsterInstance) -> list[dg.RunRequest]:
        return sensor.evaluate_tick(dg.build_sensor_context(instance=instance)).run_requests

    with dg.DagsterInstance.ephemeral() as instance:
        assert asked(instance) == []
        failed = site_run(instance, dg.DagsterRunStatus.FAILURE)
        (request,) = asked(instance)
        assert request.run_key == f"after {failed}"
        assert PUBLICATION_TAG in request.tags
        site_run(instance, dg.DagsterRunStatus.STARTED)
        assert asked(instance) == []


def test_a_run_whose_machine_went_away_is_noted_as_failed_and_keeps_publication_waiting_no_more(
    home: Home, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings = load(home.path)
    with dg.DagsterInstance.ephemeral() as instance:
        run_id = site_run(instance, dg.DagsterRunStatus.STARTED)
        automation.end_lost_runs(instance, SITES_JOB, home, settings)
        assert instance.get_run_by_id(run_id).status is dg.DagsterRunStatus.STARTED, "it has just begun"
        monkeypatch.setattr(automation, "LOST_AFTER", -1)
        with lease.held(home, settings.lakehouse, lease.site("low")):
            automation.end_lost_runs(instance, SITES_JOB, home, settings)
            assert instance.get_run_by_id(run_id).status is dg.DagsterRunStatus.STARTED, "somebody is at work on it"
        automation.end_lost_runs(instance, SITES_JOB, home, settings)
        assert instance.get_run_by_id(run_id).status is dg.DagsterRunStatus.FAILURE
