"""One asset a model file, with the dependencies its own references give. Not here: what a model does."""

import time

import dagster as dg

from pipelines.graph import same_day_job, table_metadata
from pipelines.graph.asset_checks import held_results, key, results, specs
from pipelines.graph.resources import Academy
from warehouse.build import fingerprints, freshness, raw_retention, refit_policy, run
from warehouse.build.model import GIVEN, Model, models
from warehouse.privacy import masking
from warehouse.schema.registry import TABLES

SETTINGS_READ = {
    "stage.bay_clock": {"raw.bay"},
    "stage.drawn_drill": {"raw.drawn_lot", "raw.shot", "raw.drill"},
    **{table: {"raw.export_file", "raw.rejected_row", "raw.student", "raw.coach"} for table in masking.SHOWN},
}
"""Stage views that the build makes, and the raw tables they need."""


def tables_behind(model: Model) -> set[str]:
    """Return the tables a model depends on, steps of `stage` replaced by what they read."""
    found: set[str] = set()
    for table in model.reads:
        if table in models() and models()[table].stage:
            found |= tables_behind(models()[table])
        elif table in GIVEN:
            found |= SETTINGS_READ.get(table, set())
        elif table in models() or table.startswith("raw."):
            found.add(table)
    return found


def asset_spec(model: Model, **arguments) -> dg.AssetSpec:
    """Return a model's spec."""
    return dg.AssetSpec(
        key(model.name),
        deps=[key(table) for table in sorted(tables_behind(model))],
        description=f"One row: {TABLES[model.name].row}.",
        group_name=TABLES[model.name].schema,
        metadata=table_metadata.columns(TABLES[model.name]),
        kinds={"sql" if model.path.suffix == ".sql" else "python"},
        **arguments,
    )


def by_night_assets(partitions: dg.PartitionsDefinition) -> dg.AssetsDefinition:
    """Return the tables that are replaced night by night, built together a batch of nights at a time."""
    made = [model for model in models().values() if model.by_night and not model.stage]

    @dg.multi_asset(
        specs=[asset_spec(model) for model in made],
        check_specs=[spec for model in made for spec in specs(model.name)],
        partitions_def=partitions,
        backfill_policy=dg.BackfillPolicy.single_run(),
        name="nights",
    )
    def nights_built(context: dg.AssetExecutionContext, academy: Academy):
        """Build every night whose inputs changed: a lesson corrected today may belong to a night long past."""
        connection = academy.models
        by_day = same_day_job.is_at_work(context)
        if by_day and not freshness.settled(connection):
            raise dg.Failure(same_day_job.NOT_SETTLED, allow_retries=False)
        changed = fingerprints.changed(connection, academy.settings)
        for night in raw_retention.take_back(connection, academy.home.landing, changed, academy.settings.limits):
            del changed[night]
            academy.warnings.append(
                f"{night} changed, and landing/shots no longer holds its exports: it stays as it was built"
            )
        run.build_nights(connection, changed, academy.settings, academy.progress)
        context.log.info(f"{len(changed)} nights built")
        if not by_day:
            academy.decide_renewal()
        found = {model.name: results(connection, model.name) for model in made}
        failed = [check for checked in found.values() for check in checked if not check.passed]
        if not any(check.severity == dg.AssetCheckSeverity.ERROR for check in failed):
            fingerprints.audited(connection)
        for name, checked in found.items():
            (rows,) = connection.execute(f"select count(*) from {name}").fetchone()
            told = {"nights built": len(changed), table_metadata.ROW_COUNT: rows}
            yield dg.MaterializeResult(key(name), metadata=told, check_results=checked)

    return nights_built


def whole_asset(model: Model) -> dg.AssetsDefinition:
    """Return the asset of a table that is made whole."""

    @dg.multi_asset(specs=[asset_spec(model)], check_specs=specs(model.name), name=model.name.replace(".", "__"))
    def table(academy: Academy):
        """Make the table and check it, or carry it over where it is fitted to a history that hardly changed."""
        if academy.carries_over and model.name in refit_policy.FITTED:
            return dg.MaterializeResult(
                key(model.name), metadata={"carried over": 1}, check_results=held_results(academy.models, model.name)
            )
        academy.progress(f"making {model.name}", 0, 1)
        made_from = academy.made_from if model.name in run.MADE_FROM else None
        began = time.monotonic()
        rows = run.build_table(academy.models, model.name, academy.settings, academy.frames, made_from)
        return dg.MaterializeResult(
            key(model.name),
            metadata=table_metadata.made(rows, time.monotonic() - began),
            check_results=results(academy.models, model.name),
        )

    return table


def whole_assets() -> list[dg.AssetsDefinition]:
    """Return the assets of all tables that are made whole."""
    return [whole_asset(model) for model in models().values() if not model.by_night]


def model_assets(partitions: dg.PartitionsDefinition) -> list[dg.AssetsDefinition]:
    """Return all model assets."""
    return [by_night_assets(partitions), *whole_assets()]
