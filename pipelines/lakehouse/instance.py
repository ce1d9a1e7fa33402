"""Dagster's instance for a home on the lakehouse: runs in PostgreSQL, queued, one a site at a time."""

from __future__ import annotations

import yaml
from sqlalchemy import create_engine, text
from sqlalchemy.pool import NullPool

from warehouse.lakehouse.attachment import runs_schema, runs_url
from warehouse.settings.settings import Settings

SITE_TAG, PUBLICATION_TAG = "academy/site", "academy/publication"


def configuration(settings: Settings) -> dict:
    """Return what dagster.yaml says.

    A password is not in it: the PostgreSQL client takes it from PGPASSWORD or PGPASSFILE. With a catalog file, for
    trying, runs stay in SQLite and one is at work at a time.
    """
    lakehouse = settings.lakehouse
    said = {
        "telemetry": {"enabled": False},
        "nux": {"enabled": False},
        "compute_logs": {"module": "dagster._core.storage.noop_compute_log_manager", "class": "NoOpComputeLogManager"},
        "concurrency": {
            "runs": {
                "max_concurrent_runs": lakehouse.workers if lakehouse.shared else 1,
                "tag_concurrency_limits": [
                    {"key": SITE_TAG, "value": {"applyLimitPerUniqueValue": True}, "limit": 1},
                    {"key": PUBLICATION_TAG, "limit": 1},
                ],
            }
        },
    }
    if url := runs_url(settings.lakehouse):
        return said | {"storage": {"postgres": {"postgres_url": url.render_as_string()}}}
    in_home = {"base_dir": {"env": "DAGSTER_HOME"}}
    return said | {
        "event_log_storage": {"module": "pipelines.graph.event_log", "class": "OpenEventLog", "config": in_home}
    }


def make_room(settings: Settings) -> None:
    """Make the schema of this home's runs where it is not there; Dagster makes the tables.

    Raises
    ------
    sqlalchemy.exc.DBAPIError
        The server cannot be reached, or lets nobody make a schema.
    """
    url, schema = runs_url(settings.lakehouse), runs_schema(settings.lakehouse)
    if url is None:
        return
    engine = create_engine(url, poolclass=NullPool)
    with engine.begin() as connection:
        # Two at once would both find it missing.
        connection.execute(text("select pg_advisory_xact_lock(hashtext(:name))"), {"name": schema})
        connection.execute(text(f'create schema if not exists "{schema}"'))


def dagster_yaml(settings: Settings) -> str:
    """Return dagster.yaml."""
    return yaml.safe_dump(configuration(settings), sort_keys=False)
