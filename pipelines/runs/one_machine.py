"""The night without a web server: the same graph in this process, with progress and an honest exit code."""

from __future__ import annotations

import errno
import logging
import os
import shutil
import sqlite3
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from enum import IntEnum

import dagster as dg
import duckdb
import polars as pl
import sqlalchemy

from pipelines.care import alerts
from pipelines.definitions import NIGHTLY, definitions
from pipelines.graph import same_day_job
from pipelines.graph.partitions import nights_landed, range_tags
from pipelines.graph.resources import at_work, telling
from pipelines.lakehouse.instance import dagster_yaml, make_room
from pipelines.runs import run_log
from pipelines.runs.run_events import without_class_name
from warehouse import connection
from warehouse.build import freshness
from warehouse.build.run import HISTORY, Progress, keep_history, make_table, silent
from warehouse.connection import HomeIsBusy
from warehouse.home import Home
from warehouse.landing.exports import load as exports
from warehouse.landing.inbox.unpack import unpack
from warehouse.landing.reference import load as reference
from warehouse.privacy import file_modes, messages
from warehouse.publishing import manifest, publish
from warehouse.settings.clock import nights_read, today
from warehouse.settings.settings import Settings, SettingsFault, load

NO_MEMORY, MORE_MEMORY = "Out of Memory Error", "raise [limits] database_gigabytes in academy.toml"
QUIET = {"loggers": {"console": {"config": {"log_level": "CRITICAL"}}}}
"""The run's events are in Dagster's instance; the terminal shows progress and the outcome."""


INSTANCE = """telemetry:
  enabled: false
nux:
  enabled: false
compute_logs:
  module: dagster._core.storage.noop_compute_log_manager
  class: NoOpComputeLogManager
event_log_storage:
  module: pipelines.graph.event_log
  class: OpenEventLog
  config:
    base_dir:
      env: DAGSTER_HOME
concurrency:
  runs:
    max_concurrent_runs: 1
"""
"""Dagster's settings: it tells nobody, and starts no four processes a night to catch output that no asset writes."""
BROKEN = (duckdb.IOException, duckdb.SerializationException, duckdb.InternalException, duckdb.FatalException)
"""What opening a database file whose content is no longer sound may raise."""
OF_THE_MACHINE = (
    "Could not set lock",
    *(
        os.strerror(code)
        for code in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EACCES, errno.EPERM, errno.EMFILE)
    ),
)
"""What is said when the disk, a right to it or another process is at fault, and not the file's content."""


class Outcome(IntEnum):
    """What became of a run; the value is the command's exit code."""

    PUBLISHED = 0
    UNEXPECTED = 1
    NOT_PUBLISHED = 2
    PUBLISHED_WITH_WARNINGS = 3


@dataclass
class Night:
    """The run as it is told: outcome, one sentence, and what warned."""

    outcome: Outcome
    message: str
    through: date | None = None
    warnings: list[str] = field(default_factory=list)


@run_log.logged
def run(
    home: Home,
    *,
    night: date | None = None,
    rebuild: bool = False,
    by_day: bool = False,
    progress: Progress = silent,
) -> Night:
    """Bring in what landed or changed and publish it.

    Parameters
    ----------
    home
        The academy's folder.
    night
        Only this night's exports.
    rebuild
        Everything from the landing folder, as if it were the first run.
    by_day
        Sessions and blocks only, the evidence as of the last night; all of it where there is none to carry over.
    progress
        Called with what is being done, how much of it is done, of how much.
    """
    try:
        settings = load(home.path)
        if (lacking := what_lacks(home, settings, night, progress)) is not None:
            return told(home, Night(Outcome.NOT_PUBLISHED, lacking))
        ensure_instance(home)
        with telling(progress):
            return told(home, by_settings(home, settings, night, rebuild, by_day))
    except HomeIsBusy as fault:
        return Night(Outcome.NOT_PUBLISHED, str(fault))
    except SettingsFault as fault:
        return told(home, Night(Outcome.NOT_PUBLISHED, str(fault)))
    except (OSError, duckdb.IOException, duckdb.FatalException, sqlalchemy.exc.OperationalError) as fault:
        said = str(fault).strip().split("\n")[0]
        return told(home, Night(
            Outcome.NOT_PUBLISHED, f"{home.path} cannot be written ({said}): look at its disk and rights, and run again"
        ))  # fmt: skip
    except BaseException as fault:
        stopped = not isinstance(fault, Exception)
        said = "it was stopped before its end" if stopped else f"unexpected error: {fault}"
        told(home, Night(Outcome.NOT_PUBLISHED, said))
        raise


def what_lacks(home: Home, settings: Settings, night: date | None, progress: Progress) -> str | None:
    """Return why there is nothing to run on, with the remedy; None where there is."""
    if not (home.landing / "academy").is_dir():
        return (
            f"{home.landing / 'academy'} does not exist: put the academy's tables there, or make an empty home by "
            f"`academy start --home {home.path}`"
        )
    unpack(home.landing, settings.limits, lambda done, total, what: progress(what, done, total))
    if night is None:
        return None
    if fault := nights_read(settings).fault(night):
        return fault
    if night not in nights_landed(home, settings):
        return f"{home.landing / 'shots' / night.isoformat()} does not exist, and no file in the inbox is of that night"
    return None


def by_settings(home: Home, settings: Settings, night: date | None, rebuild: bool, by_day: bool) -> Night:
    """Run the night on this machine's databases, or on the lakehouse where the settings name one."""
    if settings.lakehouse.on:
        from pipelines.runs import lakehouse as many_sites

        return many_sites.run(home, settings, night=night, rebuild=rebuild)
    with connection.only_run(home):
        end_killed_runs()
        if rebuild:
            start_over(home)
        nights = nights_to_read(home, settings, night)
        by_day = by_day and freshness.settled_in(home)
    return execute(home, nights, same_day_job.JOB if by_day else NIGHTLY)


def told(home: Home, night: Night) -> Night:
    """Write what became of the run beside the published file, where there is room and a right to, and return it."""
    night.message, night.warnings = messages.shown(home, night.message), messages.shown(home, night.warnings)
    word = {0: "published", 3: "published with warnings"}.get(night.outcome, "not published")
    through = night.through and night.through.isoformat()
    night.warnings += alerts.after_night(home, word, night.message, through)
    with suppress(OSError):
        publish.tell_last_run(home, word, through, night.message, night.warnings)
    file_modes.close_to_others(home)
    return night


def end_killed_runs() -> None:
    """Note as failed the runs that Dagster takes to be at work: whoever holds the home knows that they are not."""
    with dg.DagsterInstance.get() as instance:
        for run in instance.get_runs(dg.RunsFilter(statuses=[dg.DagsterRunStatus.STARTED])):
            instance.report_run_failed(run, "its process ended before it did")


def ensure_instance(home: Home, *, room: bool = False) -> None:
    """Give Dagster its instance in the home, and its room on a server that is to be asked; it tells nobody about it."""
    folder = home.private / "dagster"
    folder.mkdir(parents=True, exist_ok=True)
    path, settings = folder / "dagster.yaml", load(home.path)
    wanted = dagster_yaml(settings) if settings.lakehouse.on else INSTANCE
    if room and settings.lakehouse.on:
        make_room(settings)
    if not path.exists() or path.read_text(encoding="utf-8") != wanted:
        path.write_text(wanted, encoding="utf-8")
    os.environ["DAGSTER_HOME"] = str(folder)


@sqlalchemy.event.listens_for(sqlalchemy.Engine, "connect")
def write_ahead_without_waiting(opened, _record) -> None:
    """Let Dagster's event log, in WAL mode, skip the disk flush of every single event: no run depends on it."""
    if isinstance(opened, sqlite3.Connection) and not opened.in_transaction:
        opened.execute("pragma synchronous = normal")


def start_over(home: Home) -> None:
    """Forget the private databases; what was published when is kept."""
    held = publications(home)
    for path in home.private.glob("*.duckdb*"):
        path.unlink()
    keep_publications(home, held)


def keep_publications(home: Home, held: pl.DataFrame | None) -> None:
    """Put ops.publication into a private database that has just begun."""
    if held is not None:
        with connection.private(home) as opened:
            make_table(opened, HISTORY)
            keep_history(opened, held)


def publications(home: Home) -> pl.DataFrame | None:
    """Return ops.publication as it stands, else as last published, or None where neither can be read."""
    for path in filter(None, (home.private / "warehouse.duckdb", manifest.good_version(home).path)):
        try:
            with duckdb.connect(path.resolve(), read_only=True) as opened:
                return opened.execute(f"from {HISTORY}").pl()
        except duckdb.Error:
            continue
    return None


def nights_to_read(home: Home, settings: Settings, night: date | None) -> tuple[date, date]:
    """Return the first and last night whose files are new or changed; the latest night where none is.

    A private database that cannot be opened is set aside: everything is in the landing folder.
    """
    if night is not None:
        return night, night
    try:
        with connection.private(home) as opened:
            reference.create_tables(opened)
            if other := exports.create_tables(opened):
                at_work()(f"another version made {', '.join(other)}: read again from the landing folder", 0, 1)
                run_log.say("tables of another version", level=logging.WARNING, tables=other)
            read = nights_read(settings)
            arrived = exports.changed(opened, home.landing, limits=settings.limits, nights=read)
            changed = [file.night for file in arrived if file.night in read]
    except BROKEN as fault:
        if any(words in str(fault) for words in OF_THE_MACHINE):
            raise
        set_aside = home.private / "unreadable"
        shutil.rmtree(set_aside, ignore_errors=True)
        set_aside.mkdir()
        for path in home.private.glob("*.duckdb*"):
            path.rename(set_aside / path.name)
        keep_publications(home, publications(home))
        changed = nights_landed(home, settings)
    known = changed or nights_landed(home, settings)[-1:] or [today(settings)]
    return min(known), max(known)


def execute(home: Home, nights: tuple[date, date], job_name: str = NIGHTLY) -> Night:
    """Run a job for a range of nights and tell what became of it."""
    job = definitions(home).resolve_job_def(job_name)
    with dg.DagsterInstance.get() as instance:
        result = job.execute_in_process(
            instance=instance, tags=range_tags(*nights), raise_on_error=False, run_config=QUIET
        )
    if not result.success:
        return Night(Outcome.NOT_PUBLISHED, why_not(result))
    warnings, through = publish.latest(home)
    message = publish.in_words(home, through)
    if warnings:
        return Night(Outcome.PUBLISHED_WITH_WARNINGS, f"{message}, with warnings", through, warnings)
    return Night(Outcome.PUBLISHED, message, through)


def why_not(result: dg.ExecuteInProcessResult) -> str:
    """Return why a run did not publish: blocking checks that failed, else the first error's own words."""
    failed = [
        check.description
        for check in result.get_asset_check_evaluations()
        if not check.passed and check.blocking and check.description
    ]
    if failed:
        return "the audit stopped it: " + "; ".join(failed)
    for event in result.all_events:
        error = event.event_specific_data.error if event.is_step_failure else None
        if error is not None:
            said = without_class_name(error.cause or error)
            return f"{said}; {MORE_MEMORY}" if NO_MEMORY in said else said
    return "the run failed before its first step"
