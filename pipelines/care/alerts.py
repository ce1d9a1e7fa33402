"""The alert hook: a program of the academy's choice gets a JSON on its standard input, or an address by POST.

The program is started without a shell and ends within its time or is ended; whatever becomes of either never stops a
night. Not here: what is wrong (nightly.py, doctor.py).
"""

from __future__ import annotations

import http.client
import json
import os
import signal
import subprocess
import urllib.error
import urllib.request
from contextlib import suppress
from datetime import UTC, datetime, timedelta

import dagster as dg
import duckdb

from warehouse.connection import open_published
from warehouse.home import Home
from warehouse.privacy import messages
from warehouse.publishing import publish
from warehouse.settings.settings import Alerts, SettingsFault, load

NOT_PUBLISHED = "not published"
FAILURE, SILENCE, LATE_BAY = "failure", "silence", "late bay"


def send(alerts: Alerts, event: str, message: str, **more: object) -> str | None:
    """Tell one alert to the command and the address; return what went wrong with that, in a sentence, or None.

    Parameters
    ----------
    alerts
        The settings; without a command and an address nothing is done.
    event
        failure, silence or late bay.
    message
        In words, without names.
    more
        What else the JSON holds.
    """
    said = {"event": event, "message": message, "at": datetime.now(UTC).isoformat(timespec="seconds"), **more}
    text = json.dumps(said, ensure_ascii=False, default=str) + "\n"
    faults = [
        start(alerts.command, text, alerts.timeout_seconds) if alerts.command else None,
        post(alerts.webhook, text, alerts.timeout_seconds) if alerts.webhook else None,
    ]
    return "; ".join(fault for fault in faults if fault) or None


def start(command: list[str], text: str, seconds: int) -> str | None:
    """Start the program with a text on its standard input."""
    try:
        started = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            start_new_session=True,
        )  # fmt: skip
    except OSError as fault:
        return f"the alert command could not be started ({fault.strerror}): correct alerts.command in academy.toml"
    try:
        started.communicate(text.encode(), timeout=seconds)
    except subprocess.TimeoutExpired:
        # What it started itself ends with it.
        with suppress(ProcessLookupError):
            os.killpg(started.pid, signal.SIGKILL)
        started.wait()
        return f"the alert command did not end within {seconds} s and was ended"
    if started.returncode:
        return f"the alert command ended with {started.returncode}"
    return None


def post(address: str, text: str, seconds: int) -> str | None:
    """Send a text to an address by POST; the address, which may hold a secret, is in no message."""
    try:
        request = urllib.request.Request(address, text.encode(), {"Content-Type": "application/json"}, method="POST")
        with urllib.request.build_opener(NoRedirect).open(request, timeout=seconds) as answer:
            answer.read(1)
    except urllib.error.HTTPError as fault:
        return f"the alert address answered {fault.code}: correct alerts.webhook in academy.toml"
    except (OSError, http.client.HTTPException, ValueError) as fault:
        why = getattr(fault, "reason", None) or fault
        return f"the alert address cannot be reached ({type(why).__name__}): correct alerts.webhook in academy.toml"
    return None


class NoRedirect(urllib.request.HTTPRedirectHandler):
    """An address that points elsewhere is answered for by its number: alerts go only where the settings say."""

    def redirect_request(self, *_: object) -> None:
        """Follow no redirect."""


def settings_of(home: Home) -> Alerts:
    """Return the alert settings; none where academy.toml cannot be read, which the run itself tells."""
    try:
        return load(home.path).alerts
    except SettingsFault:
        return Alerts()


def after_night(home: Home, word: str, message: str, through: object = None) -> list[str]:
    """Send what a run that has just ended asks for; return what went wrong with sending.

    A run that did not publish is a failure; one that did names the bays that are late.
    """
    alerts, message = settings_of(home), messages.shown(home, message)
    if not alerts.somebody:
        return []
    faults = []
    if word == NOT_PUBLISHED:
        faults.append(send(alerts, FAILURE, message, home=home.path.name, through_night=through))
    elif bays := late_bays(home):
        said = f"{len(bays)} bays with lessons sent nothing: {', '.join(bays)}"
        faults.append(send(alerts, LATE_BAY, said, home=home.path.name, through_night=through, bays=bays))
    return [fault for fault in faults if fault]


def sensors(home: Home) -> list[dg.SensorDefinition]:
    """Return the sensors that send alerts for runs which schedules and sensors started; others tell by themselves."""

    def started_by_itself(run: dg.DagsterRun) -> bool:
        return any(tag in run.tags for tag in ("dagster/schedule_name", "dagster/sensor_name"))

    @dg.run_failure_sensor(name="alert_on_failure", default_status=dg.DefaultSensorStatus.RUNNING)
    def alert_on_failure(context: dg.RunFailureSensorContext):
        """Tell that a night was not published."""
        if started_by_itself(context.dagster_run):
            said = context.failure_event.message or "the run failed"
            told = after_night(home, NOT_PUBLISHED, said)
            publish.tell_last_run(home, NOT_PUBLISHED, None, said, told)

    @dg.run_status_sensor(
        run_status=dg.DagsterRunStatus.SUCCESS, name="alert_on_late_bay",
        default_status=dg.DefaultSensorStatus.RUNNING,
    )  # fmt: skip
    def alert_on_late_bay(context: dg.RunStatusSensorContext):
        """Tell which bays are late."""
        if started_by_itself(context.dagster_run):
            told = after_night(home, "published", "published")
            warnings, through = publish.latest(home)
            word = "published with warnings" if warnings else "published"
            publish.tell_last_run(home, word, through and through.isoformat(), word, [*told, *warnings])

    return [alert_on_failure, alert_on_late_bay]


def late_bays(home: Home) -> list[str]:
    """Return the bays that had lessons and sent nothing on the latest night published."""
    try:
        with open_published(home.current) as published:
            rows = published.execute(
                "select bay_id from mart.bay_night where state = 'silent' "
                "and night = (select max(night) from mart.bay_night) order by all"
            ).fetchall()
    except (duckdb.Error, OSError):
        return []
    return [row[0] for row in rows]


def silence(home: Home) -> str | None:
    """Return since when nothing was published, where that is longer than the setting allows; None else.

    A night that was killed, or a machine that slept, tells nobody: something else has to ask, such as
    `academy doctor --alert` from a timer.
    """
    allowed = timedelta(hours=settings_of(home).silent_hours)
    try:
        with open_published(home.current) as published:
            (at,) = published.execute("select max(published_at) from ops.publication").fetchone() or (None,)
    except (duckdb.Error, OSError):
        return "nothing is published that can be opened"
    if at is None:
        return "nothing was ever published"
    age = datetime.now(UTC).replace(tzinfo=None) - at
    return f"nothing was published for {age.total_seconds() / 3600:,.0f} hours" if age > allowed else None
