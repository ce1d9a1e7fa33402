"""All of it as Dagster definitions, for one home: `$ACADEMY_HOME`, else ./academy_home."""

import dagster as dg

from pipelines import alerts, same_day
from pipelines.automation import late_file_sensor, nightly_schedule
from pipelines.exports import export_assets, notebook_entries, reference_tables
from pipelines.lakehouse import definitions as lakehouse
from pipelines.models import model_assets
from pipelines.partitions import nights
from pipelines.published import published_file
from pipelines.resources import Academy
from warehouse.home import Home
from warehouse.settings import load

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
    during_the_day = same_day.job(published_file)
    return dg.Definitions(
        assets=assets,
        jobs=[job, during_the_day],
        schedules=[nightly_schedule(NIGHTLY, home, settings)],
        sensors=[late_file_sensor(job, during_the_day, home, settings), *alerts.sensors(home)],
        resources={"academy": Academy(home_path=str(home.path))},
        executor=dg.in_process_executor,
    )
