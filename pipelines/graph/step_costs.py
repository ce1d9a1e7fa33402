"""What each step of the run at work cost, into ops.run_step before it is published. Not here: what steps do."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime

import dagster as dg
import duckdb

LOADED = "select count(*), sum(rows_loaded), sum(size_bytes) from raw.export_file where read_at >= $1"


def record(context: dg.AssetExecutionContext, connection: duckdb.DuckDBPyConnection) -> int:
    """Replace ops.run_step by the steps that this run has ended; return how many.

    Rows are those a step made or, for exports, loaded; bytes are those of the exports read. The publication itself has
    not ended, and is not among them.
    """
    instance, run_id = context.instance, context.run.run_id
    stats = [one for one in instance.get_run_step_stats(run_id) if one.start_time and one.end_time]
    rows = dict[str, int]()
    for record_ in instance.get_records_for_run(run_id, of_type=dg.DagsterEventType.ASSET_MATERIALIZATION).records:
        event = record_.event_log_entry.dagster_event
        if event is None or event.step_key is None:
            continue
        said = event.step_materialization_data.materialization.metadata.get("rows")
        if said is not None:
            rows[event.step_key] = rows.get(event.step_key, 0) + int(said.value)
    checks, warned = Counter[str](), Counter[str]()
    for record_ in instance.get_records_for_run(run_id, of_type=dg.DagsterEventType.ASSET_CHECK_EVALUATION).records:
        event = record_.event_log_entry.dagster_event
        if event is not None and event.step_key is not None:
            checks[event.step_key] += 1
            warned[event.step_key] += not event.asset_check_evaluation_data.passed
    made = []
    for one in sorted(stats, key=lambda step: step.start_time):
        started = datetime.fromtimestamp(one.start_time, UTC).replace(tzinfo=None)
        count, size = rows.get(one.step_key), None
        if one.step_key == "exports":
            _, count, size = connection.execute(LOADED, [started]).fetchone() or (0, 0, 0)
            count, size = int(count or 0), int(size or 0)
        elif one.step_key == "nights":
            (count,) = connection.execute(
                "select coalesce(sum(shots), 0)::bigint from ops.night semi join stage.night using (night)"
            ).fetchone() or (0,)
        tried = (checks[one.step_key], warned[one.step_key]) if checks[one.step_key] else (None, None)
        made.append([one.step_key.replace("__", "."), started, one.end_time - one.start_time, count, size, *tried])
    connection.execute("delete from ops.run_step")
    if made:
        connection.executemany("insert into ops.run_step values (?, ?, ?, ?, ?, ?, ?)", made)
    return len(made)
