"""All of it as Dagster definitions for a home on the lakehouse: a job a site, and the job that publishes."""

import dagster as dg

from pipelines.care import alerts
from pipelines.graph.landing_assets import notebook_entries, reference_tables
from pipelines.graph.model_assets import whole_assets
from pipelines.graph.publish_asset import published_file
from pipelines.graph.resources import Academy
from pipelines.lakehouse import assets, automation
from warehouse.home import Home
from warehouse.settings.settings import Settings

SITES_JOB, PUBLISH_JOB = "site_nights", "publication"


def definitions(home: Home, settings: Settings) -> dg.Definitions:
    """Return the definitions for a home whose settings name a lakehouse."""
    of_site = assets.site_asset(home)
    made = [
        of_site,
        reference_tables,
        notebook_entries,
        assets.exports_brought_in,
        assets.nights_brought_in(),
        *whole_assets(),
        published_file,
        assets.tables_put_back,
    ]
    by_site = dg.define_asset_job(
        SITES_JOB,
        selection=dg.AssetSelection.assets(of_site),
        executor_def=dg.in_process_executor,
        description="One site's exports in, its nights built, audited and committed.",
    )
    publishing = dg.define_asset_job(
        PUBLISH_JOB,
        selection=dg.AssetSelection.all() - dg.AssetSelection.assets(of_site),
        executor_def=dg.in_process_executor,
        description="Sites' nights brought in from one snapshot, tables made, audited, published.",
    )
    return dg.Definitions(
        assets=made,
        jobs=[by_site, publishing],
        schedules=[automation.site_schedule(SITES_JOB, home, settings)],
        sensors=[
            automation.site_sensor(SITES_JOB, home, settings),
            automation.publication_sensor(PUBLISH_JOB, SITES_JOB, home, settings),
            *alerts.sensors(home),
        ],
        resources={"academy": Academy(home_path=str(home.path))},
        executor=dg.in_process_executor,
    )
