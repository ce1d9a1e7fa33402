"""When runs of a home on the lakehouse start: a site's every night and when its files change, then publication."""

import hashlib
import json
import time

import dagster as dg

from pipelines.graph.partitions import nights_landed
from pipelines.graph.schedules_and_sensors import every_night_at, file_state
from pipelines.lakehouse.assets import SITES, site_tags
from pipelines.lakehouse.instance import PUBLICATION_TAG, SITE_TAG
from warehouse.home import Home
from warehouse.lakehouse import lease, sites
from warehouse.landing.exports.discover import from_inbox
from warehouse.landing.exports.file_names import BayNames, split_name
from warehouse.landing.inbox.unpack import unpack
from warehouse.settings.settings import Settings

AT_WORK = [
    dg.DagsterRunStatus.QUEUED,
    dg.DagsterRunStatus.NOT_STARTED,
    dg.DagsterRunStatus.STARTING,
    dg.DagsterRunStatus.STARTED,
    dg.DagsterRunStatus.CANCELING,
]
LOST_AFTER = 600
"""Seconds after which a run that is at work holds its site's lease, or is at work no more."""
ENDED = [dg.DagsterRunStatus.SUCCESS, dg.DagsterRunStatus.FAILURE, dg.DagsterRunStatus.CANCELED]


def site_schedule(job_name: str, home: Home, settings: Settings) -> dg.ScheduleDefinition:
    """Return the nightly schedule: one run a site, queued."""

    @dg.schedule(**every_night_at(job_name, settings))
    def every_night(context: dg.ScheduleEvaluationContext):
        """Take every site: only nights that changed cost anything."""
        known = list(sites.sites(home.landing))
        context.instance.add_dynamic_partitions(SITES.name, known)
        night = context.scheduled_execution_time.date().isoformat()
        return [
            dg.RunRequest(run_key=f"{night} {site_id}", partition_key=site_id, tags=site_tags(site_id))
            for site_id in known
        ]

    return every_night


def site_states(home: Home, settings: Settings) -> dict[str, str]:
    """Return for each site a digest of names, sizes and times of its bays' files."""
    site_of = {bay: site_id for site_id, bays in sites.sites(home.landing).items() for bay in bays}
    names = BayNames(site_of)
    digests = {site_id: hashlib.blake2b(digest_size=8) for site_id in site_of.values()}
    unpack(home.landing, settings.limits)
    for file in from_inbox(home.landing):
        if file.bay_id in site_of:
            state = f"{file.path} {file.size_bytes} {file.modified_ns}\n"
            digests[site_of[file.bay_id]].update(state.encode())
    for night in nights_landed(home, settings):
        folder = home.landing / "shots" / night.isoformat()
        for path in sorted(folder.iterdir()) if folder.is_dir() else ():
            site_id = site_of.get(names.bay_of(split_name(path.name)[0]))
            if site_id is not None:
                digests[site_id].update(f"{night} {file_state(path)}".encode())
    return {site_id: digest.hexdigest() for site_id, digest in digests.items()}


def site_sensor(job_name: str, home: Home, settings: Settings) -> dg.SensorDefinition:
    """Return the sensor that starts a site's run when its files arrive late or change."""

    @dg.sensor(
        name="late_or_changed_files",
        job_name=job_name,
        minimum_interval_seconds=60,
        default_status=dg.DefaultSensorStatus.RUNNING,
    )
    def late_or_changed_files(context: dg.SensorEvaluationContext):
        """Compare each site's files with how they looked last time."""
        seen, now = json.loads(context.cursor or "{}"), site_states(home, settings)
        changed = sorted(site_id for site_id, state in now.items() if seen.get(site_id) != state)
        context.instance.add_dynamic_partitions(SITES.name, changed)
        requests = [
            dg.RunRequest(run_key=f"{site_id} {now[site_id]}", partition_key=site_id, tags=site_tags(site_id))
            for site_id in changed
        ]
        return dg.SensorResult(run_requests=requests, cursor=json.dumps(now))

    return late_or_changed_files


def end_lost_runs(instance: dg.DagsterInstance, sites_job: str, home: Home, settings: Settings) -> None:
    """Note as failed the runs of sites that began long ago and whose site nobody works on: their machine went away.

    They would else hold their place in the queue and keep publication waiting.
    """
    for record in instance.get_run_records(dg.RunsFilter(job_name=sites_job, statuses=[dg.DagsterRunStatus.STARTED])):
        site_id = record.dagster_run.tags.get(SITE_TAG)
        long_ago = time.time() - (record.start_time or record.create_timestamp.timestamp()) > LOST_AFTER
        if site_id and long_ago and lease.free(home, settings.lakehouse, lease.site(site_id)):
            instance.report_run_failed(record.dagster_run, "its worker went away: nobody holds its site")


def publication_sensor(job_name: str, sites_job: str, home: Home, settings: Settings) -> dg.SensorDefinition:
    """Return the sensor that publishes once no site's run is queued or at work and one has ended since."""

    @dg.sensor(
        name="publish_when_sites_are_done",
        job_name=job_name,
        minimum_interval_seconds=60,
        default_status=dg.DefaultSensorStatus.RUNNING,
    )
    def publish_when_sites_are_done(context: dg.SensorEvaluationContext):
        """Look at the runs of sites; those that failed keep nobody waiting."""
        instance = context.instance
        end_lost_runs(instance, sites_job, home, settings)
        if instance.get_runs(dg.RunsFilter(job_name=sites_job, statuses=AT_WORK), limit=1):
            return dg.SkipReason("sites are at work")
        ended = instance.get_run_records(dg.RunsFilter(job_name=sites_job, statuses=ENDED), limit=1)
        if not ended:
            return dg.SkipReason("no site was brought in yet")
        return dg.RunRequest(run_key=f"after {ended[0].dagster_run.run_id}", tags={PUBLICATION_TAG: "yes"})

    return publish_when_sites_are_done
