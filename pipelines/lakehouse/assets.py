"""Assets of a home on the lakehouse that differ from one machine's: sites' nights by site, and how they are brought in.

All other assets are the same. Not here: what a step does (warehouse/lakehouse), when runs start (automation.py).
"""

from datetime import date

import dagster as dg

from pipelines.graph.asset_checks import key, results, specs
from pipelines.graph.landing_assets import asset_specs
from pipelines.graph.model_assets import asset_spec
from pipelines.graph.publish_asset import KEY as PUBLISHED
from pipelines.graph.resources import Academy, at_work, scratch_inside
from pipelines.lakehouse.instance import SITE_TAG
from warehouse.build.model import models
from warehouse.home import Home
from warehouse.lakehouse import publication, sites
from warehouse.schema import raw
from warehouse.settings.settings import load

SITES = dg.DynamicPartitionsDefinition(name="site")
SITE_NIGHTS, TABLES_PUT_BACK = dg.AssetKey(["lake", "site_nights"]), dg.AssetKey(["lake", "tables"])
NIGHT_TAG, REBUILD_TAG = "academy/night", "academy/rebuild"


def site_tags(site_id: str, night: date | None = None, rebuild: bool = False) -> dict[str, str]:
    """Return the tags of a run that brings a site in."""
    tags = {SITE_TAG: site_id}
    tags |= {NIGHT_TAG: night.isoformat()} if night else {}
    return tags | ({REBUILD_TAG: "yes"} if rebuild else {})


def site_asset(home: Home) -> dg.AssetsDefinition:
    """Return the asset by which a worker brings one site in."""

    @dg.asset(
        key=SITE_NIGHTS,
        partitions_def=SITES,
        group_name="landing",
        description="One site's nights on the lakehouse, raw and core together, built and audited by one worker.",
    )
    def site_nights(context: dg.AssetExecutionContext) -> dg.MaterializeResult:
        """Bring in what landed or changed at a site."""
        settings, site_id = load(home.path), context.partition_key
        night = context.run.tags.get(NIGHT_TAG)
        with scratch_inside(sites.scratch(home, settings, site_id).with_suffix(".tmp")):
            done = sites.bring_in(
                home,
                settings,
                site_id,
                night=date.fromisoformat(night) if night else None,
                rebuild=REBUILD_TAG in context.run.tags,
                progress=lambda what, at, of: at_work()(f"site {site_id}: {what}", at, of),
            )
        return dg.MaterializeResult(metadata={
            "nights built": len(done.built), "nights read": len(done.read), "rows loaded": done.rows_loaded,
            "steps repeated": done.repeated, "warnings": "\n".join(done.warnings),
        })  # fmt: skip

    return site_nights


@dg.multi_asset(
    specs=asset_specs(raw.EXPORT_TABLES, deps=[key("raw.bay"), key("raw.site"), key("raw.student"), SITE_NIGHTS]),
    name="exports",
)
def exports_brought_in(academy: Academy):
    """Bring in what sites committed, from one snapshot; raw shots stay on the lakehouse."""
    academy.progress("bringing in sites' nights", 0, 1)
    brought = academy.bring_in()
    strange = publication.refuse_strangers(academy.lake, academy.home.landing, academy.settings.limits)
    academy.warnings.extend([*brought.warnings, *strange])
    for table in raw.EXPORT_TABLES:
        yield dg.MaterializeResult(
            key(table.name), metadata={"snapshot": brought.snapshot, "nights brought in": len(brought.nights)}
        )


def nights_brought_in() -> dg.AssetsDefinition:
    """Return the by-night tables, as sites' workers built them, with their checks."""
    made = [model for model in models().values() if model.by_night and not model.stage]

    @dg.multi_asset(
        specs=[asset_spec(model) for model in made],
        check_specs=[spec for model in made for spec in specs(model.name)],
        name="nights",
    )
    def nights_checked(academy: Academy):
        """Check the nights brought in, and note them where no blocking check failed."""
        academy.decide_renewal()
        found = {model.name: results(academy.models, model.name) for model in made}
        failed = [check for checked in found.values() for check in checked if not check.passed]
        if not any(check.severity == dg.AssetCheckSeverity.ERROR for check in failed):
            publication.noted(academy.lake, academy.brought)
        for name, checked in found.items():
            yield dg.MaterializeResult(
                key(name), metadata={"nights": len(academy.brought.nights)}, check_results=checked
            )

    return nights_checked


@dg.asset(
    key=TABLES_PUT_BACK,
    deps=[PUBLISHED],
    group_name="published",
    description="What was made of all sites together, on the lakehouse for its readers; old snapshots expired.",
)
def tables_put_back(academy: Academy) -> dg.MaterializeResult:
    """Put the whole tables on the lakehouse, and tidy it."""
    academy.progress("putting tables on the lakehouse", 0, 1)
    file, snapshot = academy.home.current.resolve().name, academy.brought.snapshot
    publication.put_back(academy.lake, snapshot, file)
    publication.tidy(academy.lake, academy.settings.lakehouse.keep_days)
    return dg.MaterializeResult(metadata={"nights from snapshot": snapshot, "file": file})
