"""The last asset: a complete, audited file takes the place of the old one."""

from datetime import timedelta

import dagster as dg
import duckdb

from pipelines.graph import same_day_job, step_costs
from pipelines.graph.asset_checks import BooksAtFault, audited, books, key
from pipelines.graph.resources import Academy
from warehouse.audit import audit
from warehouse.build import freshness, raw_retention, refit_policy
from warehouse.build.model import models
from warehouse.privacy import consent, messages, withheld
from warehouse.publishing import publish
from warehouse.schema.ops import PUBLICATION

KEY = dg.AssetKey(["published", "current"])


def fit_to_publish(connection: duckdb.DuckDBPyConnection) -> None:
    """Raise where the publication's own row, or a name that may not be shown, keeps it from being published."""
    audited(connection, PUBLICATION.name)
    if found := consent.names_about_to_be_published(connection):
        raise BooksAtFault("consent stopped it: " + "; ".join(str(one) for one in found))


@dg.asset(
    key=KEY,
    deps=[key(model.name) for model in models().values() if not model.stage],
    group_name="published",
    description="The published file: core, mart and ops, audited, swung over in one rename.",
    freshness_policy=dg.FreshnessPolicy.time_window(fail_window=timedelta(hours=26)),
)
def published_file(context: dg.AssetExecutionContext, academy: Academy) -> dg.MaterializeResult:
    """Publish what has passed its audit."""
    academy.progress("publishing", 0, 1)
    connection = academy.models
    step_costs.record(context, connection)
    renewed = not (same_day_job.is_at_work(context) or academy.carries_over)
    freshness.note(connection, evidence=renewed)
    own = PUBLICATION.name
    warned = [*academy.warnings, *audited(connection, *(name for name in books() if name != own))] + [
        audit.sentence(*found)
        for found in connection.execute(
            "select table_name, meaning, faults, example, remedy from ops.check_result order by all"
        ).fetchall()
    ]
    built = connection.execute("select count(*) from stage.night").fetchone()[0]
    warned = messages.shown(academy.home, warned)
    if renewed:
        refit_policy.note(connection, academy.settings)
    version = publish.publish(
        connection, academy.home, built, warned, academy.settings.publishing.keep_versions,
        fit=lambda: fit_to_publish(connection),
    )  # fmt: skip
    withheld.keep(connection, academy.home)
    raw_retention.trim(connection, academy.settings.retention.raw_nights)
    academy.progress("publishing", 1, 1)
    return dg.MaterializeResult(
        metadata={"file": version.name, "bytes": version.stat().st_size, "warnings": len(warned)}
    )
