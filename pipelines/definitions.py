"""All of it as Dagster definitions, for one home: `$ACADEMY_HOME`, else ./academy_home."""

import dagster as dg

from pipelines.care import alerts
from pipelines.graph import same_day_job
from pipelines.graph.landing_assets import export_assets, notebook_entries, reference_tables
from pipelines.graph.model_assets import model_assets
from pipelines.graph.partitions import nights
from pipelines.graph.publish_asset import published_file
from pipelines.graph.resources import Academy
from pipelines.graph.schedules_and_sensors import late_file_sensor, nightly_schedule
from pipelines.lakehouse import definitions as lakehouse
from warehouse.home import Home
from warehouse.settings.settings import load

NIGHTLY = "nightly"


def definitions(home: Home) -> dg.Definitions:
    """Return the definitions for a home; those for many workers where its settings name a lakehouse."""
    settings = load(home.path)
    if settings.lakehouse.on:
        return lakehouse.definitions(home, settings)
    partitions = nights(home, settings)
    assets = [
        reference_tables,
        notebook_entries,
        export_assets(partitions),
        *model_assets(partitions),
        published_file,
    ]
    job = dg.define_asset_job(
        NIGHTLY,
        selection=dg.AssetSelection.all(),
        executor_def=dg.in_process_executor,
        description="Exports in, nights built, tables made, audited, published.",
    )
    during_the_day = same_day_job.job(published_file)
    return dg.Definitions(
        assets=assets,
        jobs=[job, during_the_day],
        schedules=[nightly_schedule(NIGHTLY, home, settings)],
        sensors=[late_file_sensor(job, during_the_day, home, settings), *alerts.sensors(home)],
        resources={"academy": Academy(home_path=str(home.path))},
        executor=dg.in_process_executor,
    )
