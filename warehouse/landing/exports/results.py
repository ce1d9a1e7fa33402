"""What a load did, file by file, and how it is remembered in raw.export_file. Not here: the reading (load.py)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import duckdb

from warehouse.landing.exports.bulk_load import NO_ROWS, Counts
from warehouse.landing.exports.decisions import Decisions
from warehouse.landing.exports.discover import ExportFile
from warehouse.landing.exports.judge import Losses
from warehouse.landing.exports.merge import Repeated
from warehouse.landing.path_safety import in_words

LOADED, REFUSED, REPLACED = "loaded", "refused", "replaced"
NO_SUCH_BAY = "bay '{bay_id}' is not in bays.csv: add it there, or correct the file's name"


FILES_SAID = 8
"""Files whose losses are told one by one; of more they are told by bay."""


@dataclass
class Outcome:
    """What became of one export in this load; `of_others` is what that changed of files read before, in words."""

    file: ExportFile
    status: str
    content_hash: str
    settings_hash: str
    reason: str | None = None
    counts: Counts = NO_ROWS
    warnings: list[str] = field(default_factory=list)
    of_others: list[str] = field(default_factory=list)
    last_good_kept: bool = False
    passed_over: int | None = None
    losses: Losses = field(default_factory=Losses)


REMOVED = (
    "shots/{path} is no longer in the landing folder; what was loaded from it stays: `academy withdraw-export {path}` "
    "takes it out too, `academy take-export {path}` keeps it without this line"
)


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
        return sum(outcome.counts.loaded for outcome in self.outcomes)

    def rows(self, what: str) -> int:
        """Return the sum over files of rows read, loaded, rejected, duplicate or set_aside."""
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
        self.warnings += [*(f"{shown}: {warning}" for warning in outcome.warnings), *outcome.of_others]

    def _add_strange(self, bay_id: str, reason: str, shown: str) -> None:
        """Say of a bay that is not known once how many exports it sent: a bay that is gone may have a year of them."""
        paths = self._strange.setdefault(bay_id, [])
        if paths:
            self.warnings.remove(_strange_in_words(paths, reason))
        paths.append(shown)
        self.warnings.append(_strange_in_words(paths, reason))

    def add_losses(self) -> None:
        """Say what files that were loaded lost, by reason: each file, or where they are many each bay."""
        losing = [one for one in self.outcomes if one.status != REFUSED and one.losses.by_reason]
        if len(losing) <= FILES_SAID:
            self.warnings += [_lost(f"shots/{one.file.path}", [one]) for one in losing]
            return
        for bay_id in sorted({one.file.bay_id for one in losing}):
            of_bay = [one for one in losing if one.file.bay_id == bay_id]
            self.warnings.append(_lost(f"bay {bay_id}, {len(of_bay):,} files", of_bay))


def _lost(shown: str, outcomes: Sequence[Outcome]) -> str:
    """Say what files lost, with an example of the one that lost most."""
    together = Losses()
    for outcome in outcomes:
        for reason, rows in outcome.losses.by_reason.items():
            together.by_reason[reason] = together.by_reason.get(reason, 0) + rows
    worst = max(outcomes, key=lambda outcome: outcome.counts.rejected)
    where = f"shots/{worst.file.path} " if len(outcomes) > 1 else ""
    rows, lost = (sum(getattr(one.counts, what) for one in outcomes) for what in ("read", "rejected"))
    return f"{shown}: {lost:,} of {rows:,} rows refused ({together}), such as {where}{worst.losses.example}"


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
        "delete from raw.rejected_row where list_contains($1, path) and latest and path not in "
        "(select path from raw.export_file where list_contains($1, path) and in_force and latest)",
        [paths],
    )
    con.execute("update raw.rejected_row set latest = false where list_contains($1, path)", [paths])
    con.execute("delete from raw.export_file where list_contains($1, path) and not in_force", [paths])
    con.execute("update raw.export_file set latest = false where list_contains($1, path)", [paths])
    kept = {
        row[0]
        for row in con.execute("select path from raw.export_file where list_contains($1, path)", [paths]).fetchall()
    }
    for outcome in outcomes:
        outcome.last_good_kept = outcome.file.path in kept
    _insert(con, outcomes, in_force=[False] * len(outcomes))


def remember_read(con: duckdb.DuckDBPyConnection, outcomes: Sequence[Outcome]) -> None:
    """Record exports whose rows are in force now."""
    con.execute(
        "delete from raw.export_file where list_contains($1, path)", [[outcome.file.path for outcome in outcomes]]
    )
    _insert(con, outcomes, in_force=[True] * len(outcomes))


def explain(
    con: duckdb.DuckDBPyConnection,
    outcomes: Sequence[Outcome],
    repeated: Sequence[Repeated],
    losers: Sequence[tuple[str, str]],
) -> None:
    """Say of files just read, and of those beside them, what is not counted from them but from another file."""
    of_path = {outcome.file.path: outcome for outcome in outcomes}
    said: dict[str, list[str]] = {}
    for one in repeated:
        whole = "all" if not one.loaded else f"{one.shots:,}"
        sentence = f"{whole} of its shots stand in shots/{one.kept_path} too, and are counted there"
        said.setdefault(one.path, []).append(sentence)
    for path, kept in losers:
        (bay_id, shots) = con.execute(
            "select (select any_value(bay_id) from raw.export_file where path = $2), count(*) from raw.repeated_shot "
            "where path = $1 and kept_path = $2",
            [path, kept],
        ).fetchone() or ("", 0)
        if not shots:
            continue
        said.setdefault(path, []).append(
            f"{shots:,} of its shots are those of shots/{kept}, bay {bay_id}, and are counted there: is one of the two "
            "the other bay's file?"
        )
    if not repeated and not losers:
        return
    con.execute("update raw.export_file set reason = null where in_force and list_contains($1, path)", [list(of_path)])
    for path, sentences in said.items():
        con.execute("update raw.export_file set reason = $1 where in_force and path = $2", ["; ".join(sentences), path])
    for path, status, loaded, duplicate, aside in con.execute(
        "select path, status, rows_loaded, rows_duplicate, rows_set_aside from raw.export_file "
        "where in_force and list_contains($1, path)",
        [list(of_path)],
    ).fetchall():
        done = of_path[path]
        done.status, done.reason = status, "; ".join(said.get(path, [])) or None
        done.counts = replace(done.counts, loaded=loaded, duplicate=duplicate, set_aside=aside)
    for path, sentences in said.items():
        if path in of_path:
            of_path[path].warnings += sentences
        else:
            outcomes[0].of_others += [f"shots/{path}: {sentence}" for sentence in sentences]


def forget_removed(con: duckdb.DuckDBPyConnection, paths: Sequence[str], book: Decisions) -> list[str]:
    """Forget files that are gone and of which nothing is counted: refused ones, and those that others hold whole.

    What a refused file had left in force is the latest again.

    Returns
    -------
    list of str
        What stays of the others, in words, where nothing was decided about it.
    """
    gone = [
        row[0]
        for row in con.execute(
            "delete from raw.export_file where list_contains($1, path) and latest and (status = 'refused' or "
            "status = 'replaced' and rows_set_aside = 0) returning path",
            [list(paths)],
        ).fetchall()
    ]
    con.execute("delete from raw.rejected_row where list_contains($1, path) and latest", [gone])
    for table in ("raw.export_file", "raw.rejected_row"):
        con.execute(f"update {table} set latest = true where list_contains($1, path)", [gone])
    con.execute(
        "delete from raw.repeated_shot where list_contains($1, path) and path not in "
        "(select path from raw.export_file where in_force)",
        [gone],
    )
    left = con.execute(
        "select path, content_hash from raw.export_file where in_force and list_contains($1, path) order by all",
        [list(paths)],
    ).fetchall()
    return [REMOVED.format(path=path) for path, content in left if not book.word(path, content)]


def take_out(con: duckdb.DuckDBPyConnection, paths: Sequence[str]) -> set[tuple[dt.date, str]]:
    """Take out all that is in force of these paths; return their nights and bays."""
    touched = set(
        con.execute(
            "select distinct night, bay_id from raw.export_file where list_contains($1, path) and in_force",
            [list(paths)],
        ).fetchall()
    )
    for table in ("raw.shot", "raw.repeated_shot"):
        con.execute(f"delete from {table} where list_contains($1, path)", [list(paths)])
    con.execute(
        "delete from raw.rejected_row as r using raw.export_file as e where e.path = r.path and e.in_force "
        "and r.latest = e.latest and list_contains($1, r.path)",
        [list(paths)],
    )
    con.execute("delete from raw.export_file where list_contains($1, path) and in_force", [list(paths)])
    return touched


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
        [outcome.counts.set_aside for outcome in outcomes],
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
