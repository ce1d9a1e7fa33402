"""When runs start by themselves: every night, and when files arrive late or change."""

import hashlib
import json
from datetime import date
from pathlib import Path
from typing import Any

import dagster as dg

from pipelines.graph.partitions import nights_landed, range_tags
from pipelines.graph.same_day_job import AssetJob
from warehouse.build import freshness
from warehouse.home import Home
from warehouse.landing.exports.discover import from_inbox
from warehouse.landing.inbox.unpack import unpack
from warehouse.settings.settings import Settings


def every_night_at(job_name: str, settings: Settings) -> dict[str, Any]:
    """Return what the nightly schedule of a home is, wherever its nights are kept: in the academy's time zone, on."""
    hour, minute = settings.academy.nightly_at.split(":")
    return {
        "name": "every_night",
        "job_name": job_name,
        "cron_schedule": f"{int(minute)} {int(hour)} * * *",
        "execution_timezone": settings.academy.timezone,
        "default_status": dg.DefaultScheduleStatus.RUNNING,
    }


def nightly_schedule(job_name: str, home: Home, settings: Settings) -> dg.ScheduleDefinition:
    """Return the nightly schedule, in the academy's time zone, on by default."""

    @dg.schedule(**every_night_at(job_name, settings))
    def every_night(context: dg.ScheduleEvaluationContext):
        """Take every night landed: only those that changed cost anything."""
        landed = nights_landed(home, settings)
        if not landed:
            return dg.SkipReason("neither landing/shots nor landing/inbox holds a night yet")
        return dg.RunRequest(run_key=None, tags=range_tags(landed[-1], landed[-1]))

    return every_night


def file_state(path: Path) -> str:
    """Return a line of a file's name, size and time."""
    found = path.stat()
    return f"{path.name} {found.st_size} {found.st_mtime_ns}\n"


def folder_state(home: Home, night: date) -> str:
    """Return a digest of names, sizes and times of a night's files, and of what the inbox holds of it."""
    digest = hashlib.blake2b(digest_size=8)
    folder = home.landing / "shots" / night.isoformat()
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        digest.update(file_state(path).encode())
    for file in from_inbox(home.landing, night):
        digest.update(f"{file.path} {file.size_bytes} {file.modified_ns}\n".encode())
    return digest.hexdigest()


def late_file_sensor(nightly: AssetJob, same_day: AssetJob, home: Home, settings: Settings) -> dg.SensorDefinition:
    """Return the sensor that starts a run when files arrive or change, by day too.

    The run makes sessions and blocks; the whole night's job is asked for only where there is no evidence to carry over.
    """

    @dg.sensor(
        name="late_or_changed_files",
        jobs=[nightly, same_day],
        minimum_interval_seconds=60,
        default_status=dg.DefaultSensorStatus.RUNNING,
    )
    def late_or_changed_files(context: dg.SensorEvaluationContext):
        """Compare the landing folder with how it looked last time."""
        unpack(home.landing, settings.limits)
        seen = json.loads(context.cursor or "{}")
        now = {night.isoformat(): folder_state(home, night) for night in nights_landed(home, settings)}
        changed = [date.fromisoformat(night) for night, state in now.items() if seen.get(night) != state]
        context.update_cursor(json.dumps(now))
        if not changed:
            return dg.SkipReason("no file is new or changed")
        wanted = same_day if freshness.settled_in(home) else nightly
        return dg.RunRequest(
            job_name=wanted.name,
            run_key=hashlib.blake2b(json.dumps(now).encode(), digest_size=8).hexdigest(),
            tags=range_tags(min(changed), max(changed)),
        )

    return late_or_changed_files
