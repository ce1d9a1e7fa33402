"""Writes the invented academy: reference tables, profiles, nights of exports, what comes late, and the planted truth.

Run ``python -m demo_data.generate --sample`` to write the small sample that is kept with the code.
"""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl

from demo_data.academy import BAYS, CLUBS, FULL, SAMPLE, SMALL, Scenario
from demo_data.bay_errors import planted_bays
from demo_data.exports import Export, write_exports
from demo_data.faults import Deliveries, FileFaults, profile_of, scribble, spoil_rows
from demo_data.mess_list import planted_mess
from demo_data.profiles import PROFILES, profile_toml
from demo_data.reference import drill_log, events, fixed_tables, lesson_ids, lessons, observations, student_ids
from demo_data.students import planted_students
from demo_data.term import Term, dead, measured, play
from demo_data.trials import Lots
from demo_data.truth import planted_drills, planted_episodes, planted_responses, planted_sessions

SEED = 20260105
SAMPLE_FOLDER = Path(__file__).parent / "sample"
LATE, TRUTH = "landing_late", "planted_truth"
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Summary:
    """What was written: nights with a file, rows once everything has arrived, files landed, files still to come."""

    nights: int
    shots: int
    files: int
    late_files: int


def _exports(shots: pl.DataFrame, tell: Progress) -> list[tuple[Export, list[str]]]:
    """Return every file with the fault of each of its rows, ordered by night and bay."""
    files: list[tuple[Export, list[str]]] = []
    groups = shots.partition_by("profile", "zone", maintain_order=True)
    for done, group in enumerate(groups):
        tell("exports", done, len(groups))
        profile, faults = PROFILES[group["profile"][0]], group["fault"].to_list()
        start = 0
        for export in write_exports(group, profile, group["zone"][0]):
            files.append((export, faults[start : start + export.rows]))
            start += export.rows
    return sorted(files, key=lambda pair: pair[0].path)


def _deliver(files: list[tuple[Export, list[str]]], scenario: Scenario, seed: int) -> Deliveries:
    fates, deliveries = FileFaults([export for export, _ in files], scenario, seed), Deliveries()
    for export, fault in files:
        profile = profile_of(export.bay_id)
        nonsense = [row for row, kind in enumerate(fault) if kind == "unparsable"]
        if nonsense:
            export.content = scribble(export.content, profile, nonsense)
        fates.deliver(export, fault, profile, deliveries)
    return deliveries


def _write_csv(table: pl.DataFrame, path: Path) -> None:
    """Write a table with empty fields unquoted."""
    table.with_columns(pl.col(pl.String).replace("", None)).write_csv(path)


def _write_tables(term: Term, landing: Path, lesson: np.ndarray, ids: np.ndarray) -> None:
    folder = landing / "academy"
    folder.mkdir(parents=True, exist_ok=True)
    tables = fixed_tables(term.scenario) | {
        "students": term.students.frame,
        "enrolments": term.students.enrolments,
        "lessons": lessons(term.sessions, lesson, ids),
        "drill_log": drill_log(term.sessions, term.shots, term.episodes, term.seconds, lesson, term.mess),
        "observations": observations(term.sessions, ids, term.seed),
        "events": events(term.scenario, term.errors, ids[:-1], term.seed),
    }
    for name, table in tables.items():
        _write_csv(table, folder / f"{name}.csv")
    (landing / "profiles").mkdir(exist_ok=True)
    for name in sorted({bay[2] for bay in BAYS if bay[0] in term.scenario.bays}):
        text = profile_toml(PROFILES[name], tuple(club for club, _ in CLUBS))
        (landing / "profiles" / f"{name}.toml").write_text(text, encoding="utf-8")


def _write_truth(term: Term, folder: Path, lesson: np.ndarray, ids: np.ndarray, deliveries: Deliveries) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    episodes = planted_episodes(term.sessions, term.episodes, lesson, ids)
    for name, table in {
        "episodes": episodes,
        "drills": planted_drills(episodes),
        "student_drill": planted_responses(term.responses, ids),
        "students": planted_students(term.students),
        "bays": planted_bays(term.scenario, term.errors),
        "sessions": planted_sessions(term.sessions, lesson, ids, term.mess.overruns, dead(term)),
        "files": pl.DataFrame(deliveries.facts, infer_schema_length=None),
        "mess": planted_mess(term.sessions, term.shots, term.episodes, term.mess, term.errors, lesson, ids),
    }.items():
        _write_csv(table, folder / f"{name}.csv")


def _write_files(landing: Path, deliveries: Deliveries, tell: Progress) -> None:
    for path, content in deliveries.first.items():
        target = landing / "shots" / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    late = landing.parent / LATE
    for arrives, path, content in deliveries.later:
        target = late / arrives / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_bytes(content)
    tell("exports", 1, 1)


def write_scenario(
    landing: Path, scenario: Scenario, seed: int, progress: Progress | None = None, lots: Lots | None = None
) -> Summary:
    """Write one scenario: `landing`, and beside it what comes late and the planted truth.

    Raises
    ------
    FileExistsError
        If `landing` already holds something.
    """
    landing = Path(landing)
    if landing.exists() and any(landing.iterdir()):
        raise FileExistsError(f"{landing} already holds something")
    tell = progress or (lambda step, done, total: None)
    tell("playing the term", 0, 1)
    term = play(scenario, seed, lots)
    ids, lesson = student_ids(term.students), lesson_ids(term.sessions)
    shots = spoil_rows(measured(term), scenario, seed)
    files = _exports(shots, tell)
    deliveries = _deliver(files, scenario, seed)
    for beside in (LATE, TRUTH):
        shutil.rmtree(landing.parent / beside, ignore_errors=True)
    _write_tables(term, landing, lesson, ids)
    _write_files(landing, deliveries, tell)
    _write_truth(term, landing.parent / TRUTH, lesson, ids, deliveries)
    nights = len({path.split("/")[0] for path in deliveries.first})
    return Summary(nights, shots.height, len(deliveries.first), len(deliveries.later))


def write_academy(
    landing: Path, *, small: bool = False, seed: int = SEED, progress: Progress | None = None, lots: Lots | None = None
) -> Summary:
    """Write the invented academy by the input contract.

    Parameters
    ----------
    landing : Path
        Must be empty or absent. `landing_late/` and `planted_truth/` are written beside it.
    small : bool
        Four weeks of one site instead of fourteen of two.
    seed : int
        The same seed gives the same files, byte by byte; with trials, the same where the same was drawn.
    progress : callable, optional
        Called with (step, done, total).
    lots : callable, optional
        Keeps the academy's drill trials and draws their lots (demo_data/trials.py); without it there are none.

    Returns
    -------
    Summary
        Nights, shots, files landed and late files still to be delivered by `deliver_late`.
    """
    return write_scenario(landing, SMALL if small else FULL, seed, progress, lots)


def deliver_late(landing: Path, through: str | None = None) -> list[Path]:
    """Move late and corrected files that arrive by the night `through` (ISO date; None: all) into `landing`.

    Returns
    -------
    list of Path
        Where they now lie, in order of arrival; empty when nothing (more) is due.
    """
    late, landed = Path(landing).parent / LATE, []
    for arrival in sorted(late.iterdir()) if late.is_dir() else ():
        if through is not None and arrival.name > through:
            continue
        for source in sorted(p for p in arrival.rglob("*") if p.is_file()):
            target = Path(landing) / "shots" / source.relative_to(arrival)
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(source, target)
            landed.append(target)
        shutil.rmtree(arrival)
    return landed


def main() -> None:
    """Write the sample kept with the code, or a whole academy to a folder."""
    parser = argparse.ArgumentParser(description="Writes the invented academy.")
    parser.add_argument("landing", nargs="?", type=Path, help="where to write; absent with --sample")
    parser.add_argument("--small", action="store_true", help="four weeks of one site")
    parser.add_argument("--sample", action="store_true", help="rewrite demo_data/sample")
    parser.add_argument("--seed", type=int, default=SEED)
    chosen = parser.parse_args()
    if chosen.sample:
        shutil.rmtree(SAMPLE_FOLDER / "landing", ignore_errors=True)
        print(write_scenario(SAMPLE_FOLDER / "landing", SAMPLE, chosen.seed))
    elif chosen.landing:
        print(write_academy(chosen.landing, small=chosen.small, seed=chosen.seed))
    else:
        parser.error("say where to write, or --sample")


if __name__ == "__main__":
    main()
