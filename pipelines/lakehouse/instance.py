"""Dagster's instance for a home on the lakehouse: runs in PostgreSQL, queued, one a site at a time."""

from __future__ import annotations

import yaml
from sqlalchemy import URL, create_engine, text
from sqlalchemy.pool import NullPool

from warehouse.lakehouse.attachment import server
from warehouse.settings import Settings

SITE_TAG, PUBLICATION_TAG = "academy/site", "academy/publication"


def configuration(settings: Settings) -> dict:
    """Return what dagster.yaml says.

    A password is not in it: the PostgreSQL client takes it from PGPASSWORD or PGPASSFILE. With a catalog file, for
    trying, runs stay in SQLite and one is at work at a time.
    """
    lakehouse = settings.lakehouse
    said = {
        "telemetry": {"enabled": False},
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
    if url := runs_url(settings):
        return said | {"storage": {"postgres": {"postgres_url": url.render_as_string()}}}
    in_home = {"base_dir": {"env": "DAGSTER_HOME"}}
    return said | {"event_log_storage": {"module": "pipelines.event_log", "class": "OpenEventLog", "config": in_home}}


def runs_schema(settings: Settings) -> str:
    """Return the schema of this home's runs: homes that share a database do not see each other's."""
    return f"{settings.lakehouse.catalog_schema}_runs"


def runs_url(settings: Settings) -> URL | None:
    """Return where Dagster keeps its runs; None: SQLite in the home."""
    lakehouse = settings.lakehouse
    url = lakehouse.runs or (lakehouse.catalog if lakehouse.shared else "")
    if not url:
        return None
    return server(url).update_query_dict({"options": f"-c search_path={runs_schema(settings)}"})


def make_room(settings: Settings) -> None:
    """Make the schema of this home's runs where it is not there; Dagster makes the tables.

    Raises
    ------
    sqlalchemy.exc.DBAPIError
        The server cannot be reached, or lets nobody make a schema.
    """
    url = runs_url(settings)
    if url is None:
        return
    engine = create_engine(url, poolclass=NullPool)
    with engine.begin() as connection:
        # Two at once would both find it missing.
        connection.execute(text("select pg_advisory_xact_lock(hashtext(:name))"), {"name": runs_schema(settings)})
        connection.execute(text(f'create schema if not exists "{runs_schema(settings)}"'))


def dagster_yaml(settings: Settings) -> str:
    """Return dagster.yaml."""
    return yaml.safe_dump(configuration(settings), sort_keys=False)
