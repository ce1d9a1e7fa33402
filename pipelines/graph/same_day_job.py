"""What a run during the day makes: sessions and blocks of what landed, within minutes; evidence waits for the night."""

import dagster as dg
from dagster._core.definitions.unresolved_asset_job_definition import UnresolvedAssetJobDefinition as AssetJob

from pipelines.graph.asset_checks import key
from warehouse.build.model import models
from warehouse.schema import entered, raw

JOB = "same_day"
RENEWED = (
    "ops.export_file", "ops.rejected_row", "mart.cohort_member", "mart.student", "mart.goal", "mart.observation",
    "mart.drill_stop", "core.first_block",
)  # fmt: skip
"""Tables made whole that a session's page reads and that fit nothing. Bay offsets are those of the last night."""
NOT_SETTLED = (
    "the evidence of the last night is not whole, or was made by other code: run `academy nightly`, which renews it"
)


def tables() -> list[str]:
    """Return the tables that the run makes."""
    by_night = [model.name for model in models().values() if model.by_night and not model.stage]
    landed = [table.name for table in (*raw.REFERENCE_TABLES, *raw.EXPORT_TABLES, *entered.TABLES)]
    return [*landed, *by_night, *RENEWED]


def job(published: dg.AssetsDefinition) -> AssetJob:
    """Return the job, published file included."""
    return dg.define_asset_job(
        JOB,
        selection=dg.AssetSelection.assets(*map(key, tables())) | dg.AssetSelection.assets(published),
        executor_def=dg.in_process_executor,
        description="Exports in, nights built, sessions and blocks published; evidence stays as of the last night.",
    )


def is_at_work(context: dg.AssetExecutionContext) -> bool:
    """Return whether the run at work is one of these."""
    return context.run.job_name == JOB
