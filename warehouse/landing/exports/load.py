"""Exports into raw: each looked at alone, then read in bulk with those written alike, and their nights replaced.

Every batch is one transaction that writes to raw only, so a load that is cut short leaves whole bay-nights behind and
the next run goes on from there. Not here: what changed (discover.py), how one file is looked at (inspect.py).
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import duckdb

from warehouse.landing.cells.read import Context
from warehouse.landing.conversion.convert_sql import Reading
from warehouse.landing.exports import bulk_load
from warehouse.landing.exports.discover import Arrivals, ExportFile, bay_readings, changed, hash_or_none, present
from warehouse.landing.exports.inspect import Inspected, RefusedError, inspect
from warehouse.landing.exports.raw_tables import create_tables
from warehouse.landing.exports.read_settings import ReadSettings, reading_of
from warehouse.landing.exports.results import (
    LOADED,
    NO_SUCH_BAY,
    REFUSED,
    REPLACED,
    REPLACED_REASON,
    LoadSummary,
    Outcome,
    remember_read,
    remember_refused,
)
from warehouse.landing.lines.byte_scan import MEGABYTE
from warehouse.landing.lines.time_limit import interrupting, too_slow, within
from warehouse.landing.path_safety import in_words, misplaced
from warehouse.landing.profile.bay_profiles import converters_of, students
from warehouse.settings.settings import Limits

__all__ = ["Arrivals", "LoadSummary", "changed", "create_tables", "load", "present"]

Progress = Callable[[int, int, str], None]
UNFORESEEN = "cannot be looked at"
BATCH_BYTES = 96_000_000
"""Text read into the database at once; it bounds the memory a load takes."""


def load(
    con: duckdb.DuckDBPyConnection,
    landing: Path,
    arrivals: Arrivals | Sequence[ExportFile],
    *,
    limits: Limits | None = None,
    progress: Progress | None = None,
    batch_bytes: int = BATCH_BYTES,
) -> LoadSummary:
    """Read exports into raw and say what became of each.

    Parameters
    ----------
    con
        Connection in which `raw` holds its tables, the reference tables loaded.
    landing
        The landing folder.
    arrivals
        What `changed` or `present` returned, or some of its files.
    limits
        What an export may ask of the machine.
    progress
        Called with files done, of how many, and what is being done.
    batch_bytes
        Text read at once.

    Returns
    -------
    LoadSummary
        A file that could not be read is refused in it, never an exception; what was loaded from it before stays.
    """
    known = arrivals if isinstance(arrivals, Arrivals) else Arrivals(files=list(arrivals))
    limits, summary = limits or Limits(), LoadSummary(warnings=list(known.warnings))
    progress = progress or (lambda done, total, what: None)
    readings = bay_readings(con, landing)
    context = Context(limits, students(con), converters_of(landing))
    settings, total = ReadSettings(readings, context, landing, known.nights), len(known.files)
    with tempfile.TemporaryDirectory(prefix="landing-") as scratch:
        groups, refused = _inspect_all(con, known.files, settings, Path(scratch), progress)
        _in_transaction(con, lambda: _note_refused(con, refused, known))
        for outcome in refused:
            summary.add(outcome)
        losers = _losers([inspected for group in groups.values() for inspected in group])
        for group in (_without(groups, losers), _only(groups, losers)):
            failed = {outcome.file.path for outcome in summary.outcomes if outcome.status == REFUSED}
            replaced = {path: winner for path, winner in losers.items() if winner not in failed}
            for reading, batch in _batches(group, batch_bytes):
                for outcome in _read_batch(con, reading, batch, settings, replaced):
                    summary.add(outcome)
                    if outcome.status == LOADED:
                        summary.nights.add(outcome.file.night)
                progress(len(summary.outcomes), total, "reading exports")
    bulk_load.clear(con)
    return summary


def _note_refused(con: duckdb.DuckDBPyConnection, refused: list[Outcome], known: Arrivals) -> None:
    remember_refused(con, refused)
    for file in known.restated:
        con.execute(
            "update raw.export_file set size_bytes = $1, modified_ns = $2 where path = $3 and latest",
            [file.size_bytes, file.modified_ns, file.path],
        )
    con.execute("delete from raw.export_file where status = 'refused' and list_contains($1, path)", [known.removed])


def _in_transaction(con: duckdb.DuckDBPyConnection, step: Callable[[], None]) -> None:
    con.execute("begin transaction")
    try:
        step()
    except BaseException:
        con.execute("rollback")
        raise
    con.execute("commit")


def _inspect_all(
    con: duckdb.DuckDBPyConnection,
    files: Sequence[ExportFile],
    settings: ReadSettings,
    scratch: Path,
    progress: Progress,
) -> tuple[dict[Reading, list[Inspected]], list[Outcome]]:
    """Look at every file; return those that may be read, grouped by how, and the refused ones."""
    groups: dict[Reading, list[Inspected]] = {}
    refused: list[Outcome] = []
    landing = settings.landing
    for at, file in enumerate(sorted(files, key=lambda file: (file.night, file.path)), start=1):
        path = file.location(landing)
        try:
            reading, inspected = _inspect_one(con, path, file, settings, scratch)
            groups.setdefault(reading, []).append(inspected)
        except Exception as fault:
            # One file, whatever is in it, must not keep the others out.
            reason = str(fault)
            if not isinstance(fault, RefusedError):
                reason = f"{UNFORESEEN} ({type(fault).__name__}: {fault}): copy it again from the bay"
            by, limits = settings.as_refused(file), settings.context.limits
            opened = misplaced(path, landing) is None and file.size_bytes <= limits.file_megabytes * MEGABYTE
            opened = opened and file.night in settings.nights
            content = (hash_or_none(path) if opened else None) or ""
            refused.append(Outcome(file, REFUSED, content, by, in_words(reason)))
        progress(at, len(files), "looking at exports")
    return groups, refused


def _inspect_one(
    con: duckdb.DuckDBPyConnection,
    path: Path,
    file: ExportFile,
    settings: ReadSettings,
    scratch: Path,
) -> tuple[Reading, Inspected]:
    bay, context = reading_of(file, settings.readings, settings.landing), settings.context
    wrong = settings.nights.fault(file.night) or file.fault
    if wrong := wrong or (None if file.piece else misplaced(path, settings.landing)):
        raise RefusedError(wrong)
    if bay is None:
        raise RefusedError(NO_SUCH_BAY.format(bay_id=file.bay_id))
    if bay.profile is None:
        raise RefusedError(bay.fault or "its profile cannot be used")
    shown = f"profiles/{bay.export_profile}.toml"
    try:
        with within(context.limits.file_seconds):
            inspected = inspect(con, path, file, bay.profile, context.limits, scratch, shown, context)
    except OSError as fault:
        raise RefusedError(f"cannot be read ({fault.strerror}): check the file's rights and the disk") from None
    reading = Reading(bay.profile, shown, inspected.header, inspected.delimiter, inspected.types, bay.timezone,
                      inspected.cells)  # fmt: skip
    return reading, inspected


def _losers(inspected: Sequence[Inspected]) -> dict[str, str]:
    """Return path -> the path that replaces it, where several files of this load are of one bay and night."""
    newest: dict[tuple[object, str], ExportFile] = {}
    for file in sorted((one.file for one in inspected), key=lambda file: (file.modified_ns, file.path)):
        newest[file.night, file.bay_id] = file
    chosen = {one.file.path: newest[one.file.night, one.file.bay_id].path for one in inspected}
    return {path: winner for path, winner in chosen.items() if path != winner}


Groups = dict[Reading, list[Inspected]]


def _without(groups: Groups, losers: dict[str, str]) -> Groups:
    """Return the files that nothing replaces; they are read first, so that a loser steps in where its winner fails."""
    return {reading: [one for one in files if one.file.path not in losers] for reading, files in groups.items()}


def _only(groups: Groups, losers: dict[str, str]) -> Groups:
    """Return the files that a newer one of the same bay and night replaces."""
    return {reading: [one for one in files if one.file.path in losers] for reading, files in groups.items()}


def _batches(groups: dict[Reading, list[Inspected]], batch_bytes: int) -> Iterator[tuple[Reading, list[Inspected]]]:
    """Yield each group in batches of bounded text; a file larger than a batch stands alone."""
    for reading, files in groups.items():
        batch, size = list[Inspected](), 0
        for file in files:
            if batch and size + file.text_bytes > batch_bytes:
                yield reading, batch
                batch, size = [], 0
            batch.append(file)
            size += file.text_bytes
        if batch:
            yield reading, batch


def _read_batch(
    con: duckdb.DuckDBPyConnection,
    reading: Reading,
    batch: list[Inspected],
    settings: ReadSettings,
    losers: dict[str, str],
) -> list[Outcome]:
    """Read one batch in one transaction; where the database cannot, find out which file is to blame and refuse it."""
    outcomes: list[Outcome] = []
    seconds = settings.context.limits.file_seconds
    try:
        with interrupting(con, seconds * len(batch)):
            _in_transaction(con, lambda: outcomes.extend(_replace(con, reading, batch, settings.as_read, losers)))
    except (duckdb.Error, bulk_load.ReadError) as fault:
        if len(batch) > 1:
            return [one for file in batch for one in _read_batch(con, reading, [file], settings, losers)]
        reason = f"cannot be read ({str(fault).splitlines()[0]}): copy it again from the bay"
        if isinstance(fault, duckdb.InterruptException):
            reason = too_slow(seconds)
        file = batch[0]
        outcomes = [Outcome(file.file, REFUSED, file.content_hash, settings.as_refused(file.file), reason)]
        _in_transaction(con, lambda: remember_refused(con, outcomes))
    return outcomes


def _replace(
    con: duckdb.DuckDBPyConnection,
    reading: Reading,
    batch: list[Inspected],
    settings: Callable[[ExportFile], str],
    losers: dict[str, str],
) -> list[Outcome]:
    counts = bulk_load.convert(con, reading, batch)
    outcomes = []
    for file, count in zip(batch, counts, strict=True):
        winner = losers.get(file.file.path)
        warnings = list(file.warnings) if count.read else [*file.warnings, "holds a header and no rows"]
        outcomes.append(
            Outcome(file.file, REPLACED if winner else LOADED, file.content_hash, settings(file.file),
                    REPLACED_REASON.format(path=winner) if winner else None, count, warnings,
                    passed_over=file.passed_over if file.cells else None)
        )  # fmt: skip
    kept = [at for at, outcome in enumerate(outcomes) if outcome.status == LOADED]
    _delete_nights(con, [outcomes[at].file for at in kept])
    bulk_load.insert_shots(con, reading, kept)
    if any(count.rejected for count in counts):
        bulk_load.insert_rejected(con, reading, kept)
    remember_read(con, outcomes)
    return outcomes


def _delete_nights(con: duckdb.DuckDBPyConnection, files: Sequence[ExportFile]) -> None:
    """Delete what is in force for these bays and nights; nothing is scanned where nothing was loaded before."""
    nights, bays = [file.night for file in files], [file.bay_id for file in files]
    loaded = con.execute(
        "select e.night, e.bay_id from raw.export_file as e join (select unnest($1)::date as night, "
        "unnest($2) as bay_id) as w using (night, bay_id) where e.in_force group by all",
        [nights, bays],
    ).fetchall()
    if not loaded:
        return
    nights, bays = [row[0] for row in loaded], [row[1] for row in loaded]
    for table in ("raw.shot", "raw.rejected_row"):
        con.execute(
            f"delete from {table} as t using (select unnest($1)::date as night, unnest($2) as bay_id) as w "
            "where t.night = w.night and t.bay_id = w.bay_id and t.night between $3 and $4",
            [nights, bays, min(nights), max(nights)],
        )
