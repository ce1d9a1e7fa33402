"""Landing steps as assets: reference tables, the notebook's entries, and exports by night."""

from datetime import date

import dagster as dg

from pipelines.graph import table_metadata
from pipelines.graph.asset_checks import key
from pipelines.graph.resources import Academy
from warehouse.home import Home
from warehouse.landing import notebook_entries as entries
from warehouse.landing.exports import load
from warehouse.landing.exports.results import REFUSED, LoadSummary
from warehouse.landing.reference import load as reference
from warehouse.privacy import messages
from warehouse.schema import entered, raw
from warehouse.settings.clock import nights_read

GROUP = "landing"


def asset_specs(tables: tuple, **arguments) -> list[dg.AssetSpec]:
    """Return one spec a raw table."""
    return [
        dg.AssetSpec(
            key(table.name),
            description=f"One row: {table.row}.",
            group_name=GROUP,
            metadata=table_metadata.columns(table),
            **arguments,
        )
        for table in tables
    ]


@dg.multi_asset(specs=asset_specs(raw.REFERENCE_TABLES), name="reference_tables")
def reference_tables(academy: Academy):
    """Bring in the academy's own tables."""
    academy.progress("reading reference tables", 0, 1)
    summary = reference.load(academy.raw, academy.home.landing)
    academy.warnings.extend(summary.warnings)
    for table in raw.REFERENCE_TABLES:
        yield dg.MaterializeResult(key(table.name), metadata={"files changed": len(summary.changed)})


@dg.multi_asset(specs=asset_specs(entered.TABLES, deps=[key("raw.lesson"), key("raw.bay")]), name="notebook_entries")
def notebook_entries(academy: Academy):
    """Bring in what people entered in the notebook since the last night."""
    counts = entries.load(academy.raw, academy.home.notebook_url(academy.settings.notebook.url))
    for table in entered.TABLES:
        yield dg.MaterializeResult(key(table.name), metadata={"rows": counts.get(table.name, 0)})


def what_was_read(summary: LoadSummary, home: Home) -> dict:
    """Return a load's counts, and the files that were refused."""
    return {
        "files": len(summary.outcomes),
        "rows loaded": summary.rows_loaded,
        "rows rejected": summary.rows("rejected"),
        "bytes": sum(outcome.file.size_bytes for outcome in summary.outcomes),
        "refused": messages.shown(
            home,
            [
                {"path": outcome.file.path, "reason": outcome.reason}
                for outcome in summary.outcomes
                if outcome.status == REFUSED
            ],
        ),
    }


def export_assets(nights: dg.PartitionsDefinition) -> dg.AssetsDefinition:
    """Return the asset that reads new and changed exports of the nights it is run for."""

    @dg.multi_asset(
        specs=asset_specs(raw.EXPORT_TABLES, deps=[key("raw.bay"), key("raw.site"), key("raw.student")]),
        partitions_def=nights,
        backfill_policy=dg.BackfillPolicy.single_run(),
        name="exports",
    )
    def exports_of_nights(context: dg.AssetExecutionContext, academy: Academy):
        """Read new and changed exports, by profile in bulk."""
        asked = {date.fromisoformat(partition) for partition in context.partition_keys}
        load.create_tables(academy.raw)
        landed = load.changed(
            academy.raw, academy.home.landing, limits=academy.settings.limits, nights=nights_read(academy.settings)
        )
        arrivals = landed.of_nights(asked)
        summary = load.load(
            academy.raw,
            academy.home.landing,
            arrivals,
            limits=academy.settings.limits,
            progress=lambda done, total, what: academy.progress("reading exports", done, total),
        )
        academy.warnings.extend(summary.warnings)
        for table in raw.EXPORT_TABLES:
            yield dg.MaterializeResult(
                key(table.name), metadata=what_was_read(summary, academy.home) if table is raw.SHOT else {}
            )

    return exports_of_nights
