"""A whole night of a home on the lakehouse in this process: site after site, then publication; or one site alone.

What another worker is at work on is left to it. Not here: queued runs of many workers (automation.py).
"""

from __future__ import annotations

from datetime import date

import dagster as dg
import duckdb
from sqlalchemy.exc import DBAPIError

from pipelines.graph.publish_asset import KEY as PUBLISHED
from pipelines.graph.resources import scratch_inside
from pipelines.lakehouse.assets import SITES, site_tags
from pipelines.lakehouse.definitions import PUBLISH_JOB, SITES_JOB, definitions
from pipelines.lakehouse.instance import PUBLICATION_TAG, make_room
from pipelines.runs import one_machine, run_log
from pipelines.runs.one_machine import Night, Outcome
from warehouse import connection
from warehouse.build.run import Progress, silent
from warehouse.connection import HomeIsBusy
from warehouse.home import Home
from warehouse.lakehouse import sites
from warehouse.lakehouse.attachment import LakehouseUnfit, extension
from warehouse.publishing.publish import in_words, latest
from warehouse.settings.settings import Settings, load

OUT_OF_REACH = "the lakehouse cannot be used: look at its catalog's server and at the path of its files"


def run(home: Home, settings: Settings, *, night: date | None = None, rebuild: bool = False) -> Night:
    """Bring every site in and publish.

    A site that cannot be brought in keeps its last good nights; the others are published, with a warning.
    """
    try:
        extension("ducklake")
        make_room(settings)
        if rebuild:
            with connection.only_run(home):
                one_machine.start_over(home)
        known, made = list(sites.sites(home.landing)), definitions(home, settings)
        with dg.DagsterInstance.get() as instance:
            instance.add_dynamic_partitions(SITES.name, known)
            job = made.resolve_job_def(SITES_JOB)
            faults = [
                f"site {site_id} was not brought in and stays as it was: {why}"
                for site_id in known
                if (why := _bring_in(job, instance, site_id, night, rebuild)) is not None
            ]
            return publish(home, made, instance, faults)
    except LakehouseUnfit as fault:
        return Night(Outcome.NOT_PUBLISHED, str(fault))
    except (DBAPIError, duckdb.Error) as fault:
        return Night(Outcome.NOT_PUBLISHED, f"{OUT_OF_REACH} ({first_line(fault)})")


def publish(home: Home, made: dg.Definitions, instance: dg.DagsterInstance, faults: list[str]) -> Night:
    """Publish what sites have committed; `faults` of sites are told with it."""
    result = made.resolve_job_def(PUBLISH_JOB).execute_in_process(
        instance=instance, tags={PUBLICATION_TAG: "yes"}, raise_on_error=False, run_config=one_machine.QUIET
    )
    return _told(home, result, faults)


@run_log.logged
def one_site(
    home: Home, site_id: str, *, night: date | None = None, rebuild: bool = False, progress: Progress = silent
) -> Night:
    """Bring one site in, in this process and without Dagster; what it commits is shown by the next publication."""
    try:
        settings = load(home.path)
        if not settings.lakehouse.on:
            return Night(Outcome.NOT_PUBLISHED, "--site is for a home on a lakehouse: name [lakehouse] catalog first")
        with scratch_inside(sites.scratch(home, settings, site_id).with_suffix(".tmp")):
            done = sites.bring_in(home, settings, site_id, night=night, rebuild=rebuild, progress=progress)
    except (ValueError, LakehouseUnfit, HomeIsBusy, sites.NotFit) as fault:
        return Night(Outcome.NOT_PUBLISHED, str(fault))
    except (DBAPIError, duckdb.Error) as fault:
        return Night(Outcome.NOT_PUBLISHED, f"{OUT_OF_REACH} ({first_line(fault)})")
    message = f"site {site_id}: {len(done.built)} nights built, {done.rows_loaded:,} rows loaded, committed"
    outcome = Outcome.PUBLISHED_WITH_WARNINGS if done.warnings else Outcome.PUBLISHED
    return Night(outcome, message, max(done.built, default=None), done.warnings)


def first_line(fault: Exception) -> str:
    """Return what an error says first."""
    return str(fault).strip().split("\n")[0]


def _bring_in(
    job: dg.JobDefinition, instance: dg.DagsterInstance, site_id: str, night: date | None, rebuild: bool
) -> str | None:
    """Bring a site in; return why not, or None."""
    result = job.execute_in_process(
        instance=instance,
        partition_key=site_id,
        tags=site_tags(site_id, night, rebuild),
        raise_on_error=False,
        run_config=one_machine.QUIET,
    )
    return None if result.success else one_machine.why_not(result)


def _told(home: Home, result: dg.ExecuteInProcessResult, faults: list[str]) -> Night:
    if not result.success:
        why = one_machine.why_not(result)
        if not result.asset_materializations_for_node(PUBLISHED.to_python_identifier()):
            return Night(Outcome.NOT_PUBLISHED, "; ".join([why, *faults]))
        faults = [*faults, f"the lakehouse's own tables were not brought up to date: {why}"]
    warnings, through = latest(home)
    message = in_words(home, through)
    if warnings or faults:
        return Night(Outcome.PUBLISHED_WITH_WARNINGS, f"{message}, with warnings", through, [*faults, *warnings])
    return Night(Outcome.PUBLISHED, message, through)
