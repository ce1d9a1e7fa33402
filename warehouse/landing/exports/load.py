"""Exports into raw: each looked at alone, then read in bulk with those written alike, and their nights replaced.

Every batch is one transaction that writes to raw only, so a load that is cut short leaves whole bay-nights behind and
the next run goes on from there. Not here: what changed (discover.py), how one file is looked at (inspect.py).
"""

from __future__ import annotations

import datetime as dt
import logging
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import duckdb

from warehouse.landing.cells.read import Context
from warehouse.landing.conversion.convert_sql import Reading
from warehouse.landing.exports import bulk_load, copies, decisions, merge
from warehouse.landing.exports.decisions import Decisions
from warehouse.landing.exports.discover import (
    BESIDE,
    Arrivals,
    ExportFile,
    bay_readings,
    changed,
    hash_or_none,
    present,
)
from warehouse.landing.exports.inspect import Inspected, RefusedError, inspect
from warehouse.landing.exports.judge import Judgement, judge
from warehouse.landing.exports.raw_tables import create_tables
from warehouse.landing.exports.read_settings import ReadSettings, reading_of
from warehouse.landing.exports.results import (
    LOADED,
    NO_SUCH_BAY,
    REFUSED,
    LoadSummary,
    Outcome,
    explain,
    forget_removed,
    remember_read,
    remember_refused,
    take_out,
)
from warehouse.landing.lines.byte_scan import MEGABYTE
from warehouse.landing.lines.time_limit import interrupting, too_slow, within
from warehouse.landing.path_safety import in_words, misplaced
from warehouse.landing.profile.bay_profiles import converters_of, students
from warehouse.settings.settings import Limits

__all__ = ["Arrivals", "LoadSummary", "changed", "create_tables", "load", "present"]

Progress = Callable[[int, int, str], None]
UNFORESEEN = "cannot be read, for a reason that is not known: copy it again from the bay"
PARQUET = "its Parquet is damaged, or a column is of a type that says nothing: copy it again from the bay"
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
    settings, total = ReadSettings(readings, context, landing, known.nights, decisions.read(landing)), len(known.files)
    with tempfile.TemporaryDirectory(prefix="landing-") as scratch:
        _in_transaction(con, lambda: summary.nights.update(_keep_books(con, known, settings.book)))
        groups, refused = _inspect_all(con, known.files, settings, Path(scratch), progress)
        _in_transaction(con, lambda: remember_refused(con, refused))
        for outcome in refused:
            summary.add(outcome)
        for reading, batch in _batches(groups, batch_bytes):
            for outcome in _read_batch(con, reading, batch, settings):
                summary.add(outcome)
                if outcome.status != REFUSED:
                    summary.nights.add(outcome.file.night)
            progress(len(summary.outcomes), total, "reading exports")
    _in_transaction(con, lambda: summary.warnings.extend(forget_removed(con, known.removed, settings.book)))
    summary.add_losses()
    bulk_load.clear(con)
    return summary


def _keep_books(con: duckdb.DuckDBPyConnection, known: Arrivals, book: Decisions) -> set[dt.date]:
    """Bring the books up to what was decided, restated and removed; return the nights whose shots that changes."""
    decisions.load(con, book)
    for file in known.restated:
        con.execute(
            "update raw.export_file set size_bytes = $1, modified_ns = $2 where path = $3 and latest",
            [file.size_bytes, file.modified_ns, file.path],
        )
    touched = take_out(con, known.withdrawn)
    _settle(con, touched, copies.bring_back(con, known.withdrawn))
    return {night for night, _ in touched}


def _settle(
    con: duckdb.DuckDBPyConnection, touched: set[tuple[dt.date, str]], others: list[str]
) -> list[merge.Repeated]:
    """Count every shot of bays and nights once, those of other files too."""
    of_others = con.execute(
        "select distinct night, bay_id from raw.export_file where in_force and list_contains($1, path)", [others]
    ).fetchall()
    return merge.settle(con, touched | set(of_others))


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
                logging.getLogger(__name__).exception("%s cannot be looked at", file.path)
                reason = UNFORESEEN
            limits = settings.context.limits
            opened = misplaced(path, landing) is None and file.size_bytes <= limits.file_megabytes * MEGABYTE
            opened = opened and file.night in settings.nights
            content = (hash_or_none(path) if opened else None) or ""
            by = settings.hashed(file, content, refused=True)
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
    con: duckdb.DuckDBPyConnection, reading: Reading, batch: list[Inspected], settings: ReadSettings
) -> list[Outcome]:
    """Read one batch in one transaction; where the database cannot, find out which file is to blame and refuse it."""
    outcomes: list[Outcome] = []
    seconds = settings.context.limits.file_seconds
    try:
        with interrupting(con, seconds * len(batch)):
            _in_transaction(con, lambda: outcomes.extend(_replace(con, reading, batch, settings)))
    except (duckdb.Error, bulk_load.ReadError) as fault:
        if len(batch) > 1:
            return [one for file in batch for one in _read_batch(con, reading, [file], settings)]
        reason = PARQUET if batch[0].file.path.endswith(".parquet") else UNFORESEEN
        reason = too_slow(seconds) if isinstance(fault, duckdb.InterruptException) else reason
        logging.getLogger(__name__).warning("%s cannot be read: %s", batch[0].file.path, fault)
        file = batch[0]
        by = settings.hashed(file.file, file.content_hash, refused=True)
        outcomes = [Outcome(file.file, REFUSED, file.content_hash, by, reason)]
        _in_transaction(con, lambda: remember_refused(con, outcomes))
    return outcomes


def _replace(
    con: duckdb.DuckDBPyConnection, reading: Reading, batch: list[Inspected], settings: ReadSettings
) -> list[Outcome]:
    """Convert a batch, judge each file, and put what may be loaded in the place of what its path gave before."""
    counts = bulk_load.convert(con, reading, batch)
    judged = judge(con, reading, batch, counts, settings.context.limits, settings.book)
    outcomes = [_outcome(file, judgement, settings) for file, judgement in zip(batch, judged, strict=True)]
    kept = [at for at, outcome in enumerate(outcomes) if outcome.status == LOADED]
    loaded = [outcomes[at] for at in kept]
    remember_refused(con, [outcome for outcome in outcomes if outcome.status == REFUSED])
    _delete_before(con, [outcome.file for outcome in loaded])
    bulk_load.insert_shots(con, reading, kept)
    if any(count.rejected for count in counts):
        bulk_load.insert_rejected(con, reading, range(len(batch)))
    remember_read(con, loaded)
    losers = [(file.file.path, copy.path) for at, file in enumerate(batch) for copy in judged[at].copies
              if at in kept and not copy.wins]  # fmt: skip
    losers += [(copy.path, batch[at].file.path) for at in kept for copy in judged[at].copies if copy.wins]
    copies.set_aside(con, losers)
    back = copies.bring_back(con, [outcome.file.path for outcome in loaded])
    touched = {(outcome.file.night, outcome.file.bay_id) for outcome in loaded}
    repeated = _settle(con, touched, [*back, *(path for path, _ in losers)])
    explain(con, loaded, repeated, losers)
    return outcomes


def _outcome(file: Inspected, judgement: Judgement, settings: ReadSettings) -> Outcome:
    refused = judgement.refused is not None
    by = settings.hashed(file.file, file.content_hash, refused=refused)
    by += BESIDE + judgement.beside if judgement.beside else ""
    return Outcome(
        file.file, REFUSED if refused else LOADED, file.content_hash, by, judgement.refused, judgement.counts,
        [] if refused else list(file.warnings), losses=judgement.losses,
        passed_over=file.passed_over if file.cells else None,
    )  # fmt: skip


def _delete_before(con: duckdb.DuckDBPyConnection, files: Sequence[ExportFile]) -> None:
    """Delete what these paths gave before; nothing is scanned where nothing was read from them."""
    known = con.execute(
        "select distinct path, night from raw.export_file where list_contains($1, path)",
        [[file.path for file in files]],
    ).fetchall()
    if not known:
        return
    paths, nights = [row[0] for row in known], [row[1] for row in known]
    for table in ("raw.shot", "raw.repeated_shot", "raw.rejected_row"):
        con.execute(
            f"delete from {table} as t where list_contains($1, path) and t.night between $2 and $3",
            [paths, min(nights), max(nights)],
        )
