"""What a load did, file by file, and how it is remembered in raw.export_file. Not here: the reading (load.py)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

import duckdb

from warehouse.landing.exports.bulk_load import NO_ROWS, Counts
from warehouse.landing.exports.discover import ExportFile
from warehouse.landing.path_safety import in_words

LOADED, REFUSED, REPLACED = "loaded", "refused", "replaced"
REPLACED_REASON = "a newer file of the same bay and night was read: {path}"
NO_SUCH_BAY = "bay '{bay_id}' is not in bays.csv: add it there, or correct the file's name"


@dataclass
class Outcome:
    """What became of one export in this load."""

    file: ExportFile
    status: str
    content_hash: str
    settings_hash: str
    reason: str | None = None
    counts: Counts = NO_ROWS
    warnings: list[str] = field(default_factory=list)
    last_good_kept: bool = False
    passed_over: int | None = None


@dataclass
class LoadSummary:
    """What a load did.

    Attributes
    ----------
    outcomes
        One a file, in the order they were read.
    nights
        Nights whose rows in raw.shot changed.
    warnings
        In words, each naming its file; one for all exports of a bay that is not in bays.csv.
    """

    outcomes: list[Outcome] = field(default_factory=list)
    nights: set[dt.date] = field(default_factory=set)
    warnings: list[str] = field(default_factory=list)
    _strange: dict[str, list[str]] = field(default_factory=dict, repr=False)

    def files(self, status: str) -> int:
        """Return how many files ended with a status."""
        return sum(outcome.status == status for outcome in self.outcomes)

    @property
    def refused(self) -> int:
        """Return how many files were refused."""
        return self.files(REFUSED)

    @property
    def rows_loaded(self) -> int:
        """Return how many rows were loaded into raw.shot."""
        return sum(outcome.counts.loaded for outcome in self.outcomes if outcome.status == LOADED)

    def rows(self, what: str) -> int:
        """Return the sum over files of read, loaded, rejected or duplicate rows (of replaced files too)."""
        return sum(getattr(outcome.counts, what) for outcome in self.outcomes)

    def add(self, outcome: Outcome) -> None:
        """Take an outcome in, with its warnings."""
        self.outcomes.append(outcome)
        shown = outcome.file.shown or f"shots/{outcome.file.path}"
        if outcome.reason == in_words(NO_SUCH_BAY.format(bay_id=outcome.file.bay_id)):
            self._add_strange(outcome.file.bay_id, outcome.reason, shown)
        elif outcome.status == REFUSED:
            kept = "; what was loaded from it before stays" if outcome.last_good_kept else ""
            self.warnings.append(f"{shown} refused: {outcome.reason}{kept}")
        self.warnings += [f"{shown}: {warning}" for warning in outcome.warnings]

    def _add_strange(self, bay_id: str, reason: str, shown: str) -> None:
        """Say of a bay that is not known once how many exports it sent: a bay that is gone may have a year of them."""
        paths = self._strange.setdefault(bay_id, [])
        if paths:
            self.warnings.remove(_strange_in_words(paths, reason))
        paths.append(shown)
        self.warnings.append(_strange_in_words(paths, reason))


def _strange_in_words(paths: Sequence[str], reason: str) -> str:
    """Return the one warning about a bay that is not known."""
    more = f" and {len(paths) - 1:,} more" if len(paths) > 1 else ""
    return f"{paths[0]}{more} refused: {reason}"


def now_utc() -> dt.datetime:
    """Return the time now, UTC without zone, as stored."""
    return dt.datetime.now(dt.UTC).replace(tzinfo=None)


def remember_refused(con: duckdb.DuckDBPyConnection, outcomes: Sequence[Outcome]) -> None:
    """Record refused exports; rows in force that came from the same paths stay and are marked as no longer latest."""
    paths = [outcome.file.path for outcome in outcomes]
    con.execute(
        "delete from raw.export_file where list_contains($1, path) and not (in_force and status = 'loaded')", [paths]
    )
    con.execute("update raw.export_file set latest = false where list_contains($1, path)", [paths])
    kept = {
        row[0]
        for row in con.execute("select path from raw.export_file where list_contains($1, path)", [paths]).fetchall()
    }
    for outcome in outcomes:
        outcome.last_good_kept = outcome.file.path in kept
    _insert(con, outcomes, in_force=[False] * len(outcomes))


def remember_read(con: duckdb.DuckDBPyConnection, outcomes: Sequence[Outcome]) -> None:
    """Record loaded and replaced exports; other files of the same bays and nights become replaced."""
    paths = [outcome.file.path for outcome in outcomes]
    con.execute("delete from raw.export_file where list_contains($1, path)", [paths])
    winners = [outcome for outcome in outcomes if outcome.status == LOADED]
    con.execute(
        "delete from raw.export_file as e using (select unnest($1)::date as night, unnest($2) as bay_id) as w "
        "where e.night = w.night and e.bay_id = w.bay_id and e.in_force and not e.latest",
        [[outcome.file.night for outcome in winners], [outcome.file.bay_id for outcome in winners]],
    )
    con.execute(
        "update raw.export_file as e set status = 'replaced', in_force = false, reason = w.reason "
        "from (select unnest($1)::date as night, unnest($2) as bay_id, unnest($3) as reason) as w "
        "where e.night = w.night and e.bay_id = w.bay_id and e.status = 'loaded'",
        [
            [outcome.file.night for outcome in winners],
            [outcome.file.bay_id for outcome in winners],
            [REPLACED_REASON.format(path=outcome.file.path) for outcome in winners],
        ],
    )
    _insert(con, outcomes, in_force=[outcome.status == LOADED for outcome in outcomes])


def _insert(con: duckdb.DuckDBPyConnection, outcomes: Sequence[Outcome], in_force: list[bool]) -> None:
    if not outcomes:
        return
    columns: list[list[object]] = [
        [outcome.file.night for outcome in outcomes],
        [outcome.file.bay_id for outcome in outcomes],
        [outcome.file.path for outcome in outcomes],
        [outcome.content_hash for outcome in outcomes],
        [outcome.status for outcome in outcomes],
        [outcome.reason for outcome in outcomes],
        [outcome.counts.read for outcome in outcomes],
        [outcome.counts.loaded for outcome in outcomes],
        [outcome.counts.rejected for outcome in outcomes],
        [outcome.counts.duplicate for outcome in outcomes],
        [now_utc()] * len(outcomes),
        [outcome.file.size_bytes for outcome in outcomes],
        [outcome.file.modified_ns for outcome in outcomes],
        [outcome.settings_hash for outcome in outcomes],
        [True] * len(outcomes),
        list(in_force),
        [outcome.file.shown for outcome in outcomes],
        [outcome.passed_over for outcome in outcomes],
    ]
    taken = ", ".join(f"unnest(${place})" for place in range(1, len(columns) + 1))
    con.execute(f"insert into raw.export_file select {taken}", columns)
