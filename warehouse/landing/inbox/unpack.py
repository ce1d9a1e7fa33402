"""The inbox brought up to date: every file that is new or changed is read by its profile and cut into pieces.

What did not change costs a look at its size and time. A piece whose rows are the same is left as it is, so that a file
added to daily costs its last night. Not here: loading the pieces (load.py).
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from hashlib import sha256
from pathlib import Path

import polars as pl

from warehouse.landing.cells.outside import Origin
from warehouse.landing.cells.people import Students
from warehouse.landing.cells.read import Context, read_cells
from warehouse.landing.inbox import split, store
from warehouse.landing.inbox.store import Original, Piece
from warehouse.landing.lines.byte_scan import RefusedError, checked_bytes
from warehouse.landing.lines.time_limit import within
from warehouse.landing.path_safety import in_words, misplaced
from warehouse.landing.profile import bay_profiles
from warehouse.landing.profile.profile import Profile
from warehouse.settings.settings import Limits

SET_ASIDE = (".tmp", ".part", "~")
"""How files end that are being written."""
WHOLE = "whole file"
"""What stands for the bay in the path of a file that could not be cut."""
EDITION = "1"
"""Of how files are cut; another one cuts all anew."""
Progress = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Make:
    """One folder of the inbox: its profile, or what is wrong with it, and the bays that are of this make."""

    name: str
    profile: Profile | None
    fault: str | None
    zones: Mapping[str, str]
    beside: str


@dataclass
class Unpacked:
    """What bringing the inbox up to date did.

    Attributes
    ----------
    cut
        Files that were read, under landing/inbox.
    gone
        Files that were cut once and lie there no more.
    warnings
        What is no export, and what is gone, in words.
    """

    cut: list[str] = field(default_factory=list)
    gone: list[str] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def unpack(landing: Path, limits: Limits | None = None, progress: Progress | None = None) -> Unpacked:
    """Cut every new or changed file of the inbox into the store's pieces.

    Parameters
    ----------
    landing
        The landing folder; its own tables say which bay is of which make.
    limits
        What a file may ask of the machine.
    progress
        Called with files looked at, of how many, and what is being done.
    """
    done, folder = Unpacked(), store.folder_of(landing)
    if not (landing / "inbox").is_dir():
        return done
    files = list(_files(landing, done))
    known, makes = store.originals(folder), dict[str, Make]()
    done.gone = sorted(set(known) - {path for path, _, _ in files})
    done.warnings += [f"{known[path].shown} is no longer in the inbox; what was loaded from it stays"
                      for path in done.gone]  # fmt: skip
    readings = bay_profiles.bay_readings_landed(landing)
    context = Context(limits or Limits(), bay_profiles.students_landed(landing), bay_profiles.converters_of(landing))
    zones = {bay: reading.timezone for bay, reading in readings.items()}
    for at, (path, file, state) in enumerate(files, start=1):
        name = path.split("/")[0]
        if name not in makes:
            makes[name] = _make(name, landing, readings, context)
        make, before = makes[name], known.get(path)
        settings = _settings(make, context, refused=before is not None and before.fault is not None, zones=zones)
        if before and (before.size, before.modified, before.settings) == (*state, settings):
            continue
        if before and before.settings == settings and before.content == (bay_profiles.hash_or_none(file) or ""):
            store.restate(folder, path, *state)
            continue
        kept = _kept(folder, path) if before and before.settings == settings else {}
        _take(folder, path, file, state, make, context, zones, kept)
        done.cut.append(path)
        if progress:
            progress(at, len(files), "unpacking the inbox")
    return done


def _files(landing: Path, done: Unpacked) -> Iterator[tuple[str, Path, tuple[int, int]]]:
    """Yield (path under the inbox, file, (size, time of change)) of every file in a make's folder."""
    root = landing / "inbox"
    for make in sorted(os.scandir(root), key=lambda entry: entry.name):
        if make.name.startswith("."):
            continue
        if not make.is_dir():
            done.warnings.append(
                f"inbox/{in_words(make.name)} lies in no make's folder: move it into inbox/<export_profile>/"
            )
            continue
        for file in sorted(Path(make.path).rglob("*")):
            told = file.relative_to(root).as_posix()
            hidden = any(part.startswith(".") for part in file.relative_to(root).parts)
            if hidden or file.is_dir():
                continue
            if in_words(told) != told:
                done.warnings.append(f"inbox/{in_words(told)} has a name that is no text and is left alone: rename it")
            elif file.name.endswith(SET_ASIDE) or file.name.startswith("~$"):
                done.warnings.append(f"inbox/{told} looks half written and is left alone until it is renamed")
            else:
                stat = file.stat() if file.exists() else file.lstat()
                yield told, file, (stat.st_size, stat.st_mtime_ns)


def _make(name: str, landing: Path, readings: Mapping[str, bay_profiles.BayReading], context: Context) -> Make:
    profile, fault = bay_profiles.read_profile(name, landing)
    zones = {bay: one.timezone for bay, one in readings.items() if one.export_profile == name}
    beside = bay_profiles.read_beside(profile, landing, context.students)
    return Make(name, profile, fault, dict(sorted(zones.items())), beside)


def _settings(make: Make, context: Context, refused: bool, zones: Mapping[str, str]) -> str:
    """Return a hash that changes when a file must be cut anew; limits matter to refused files only."""
    how = make.profile.fingerprint if make.profile else make.fault
    told = f"{EDITION}|{how}|{make.zones}|{make.beside}"
    if make.profile and make.profile.inbox.bay:
        told += f"|{sorted(zones.items())}"
    told += context.limits.model_dump_json() if refused else ""
    return sha256(told.encode()).hexdigest()[:16]


def _take(
    folder: Path,
    path: str,
    file: Path,
    state: tuple[int, int],
    make: Make,
    context: Context,
    zones: Mapping[str, str],
    kept: dict[tuple[dt.date, str], Piece],
) -> None:
    """Cut one file and write down what came of it, its refusal included."""
    day = dt.datetime.fromtimestamp(state[1] / 1e9, dt.UTC).date()
    bay = next(iter(make.zones)) if len(make.zones) == 1 else split.NO_BAY
    settings = _settings(make, context, refused=False, zones=zones)
    done = Original(path, *state, "", settings, None, day, bay, 0, shown_path(path, context.students))
    pieces = list[Piece]()
    try:
        content, parts, passed_over = _cut(path, file, make, context, zones)
        done = replace(done, content=content, passed_over=passed_over)
        for (night, of_bay), part in parts.items():
            pieces.append(_written(folder, path, night, of_bay, part, make, zones, kept.get((night, of_bay))))
        if pieces and passed_over:
            # They belong to no night: they are counted with the first.
            pieces = [replace(pieces[0], passed_over=passed_over), *pieces[1:]]
        pieces = _with_kept(folder, pieces, kept)
    except Exception as fault:
        # One file, whatever is in it, must not keep the others out.
        reason = str(fault) if isinstance(fault, RefusedError) else "cannot be read, why is not known: export it again"
        refused = _settings(make, context, refused=True, zones=zones)
        done = replace(done, settings=refused, fault=in_words(reason), content=bay_profiles.hash_or_none(file) or "")
        pieces = list(kept.values())
    store.remember(folder, done, pieces)


def shown_path(path: str, students: Students) -> str:
    """Return an original's path under landing as it may be told: without a name that is a student's."""
    if not students.named_in(path.partition("/")[2]):
        return f"inbox/{path}"
    make, _, sign = store.sign_of(path).partition("/")
    return f"inbox/{make}/(named after a student) {sign}"


def _cut(
    path: str, file: Path, make: Make, context: Context, zones: Mapping[str, str]
) -> tuple[str, dict[tuple[dt.date, str], pl.DataFrame], int]:
    landing = file
    for _ in range(path.count("/") + 2):
        landing = landing.parent
    if wrong := misplaced(file, landing):
        raise RefusedError(wrong)
    if make.profile is None:
        raise RefusedError(make.fault or "its profile cannot be used")
    if file.stat().st_size == 0:
        raise RefusedError("the file is empty: export it again")
    inner = path.split("/")[1:-1]
    shown = f"profiles/{make.name}.toml"
    with within(context.limits.file_seconds):
        content, packed = checked_bytes(file, context.limits)
        table = read_cells(file, packed, make.profile, Origin(file.name, "/".join(inner), inbox=True), context, shown)
    if table.frame.is_empty():
        passed = f" (lines that are no shots by {shown}: {table.passed_over})" if table.passed_over else ""
        raise RefusedError(f"holds a header and no rows{passed}: export it again")
    return content, split.split(table.frame, make.profile, make.zones, zones, shown), table.passed_over


def _written(
    folder: Path,
    path: str,
    night: dt.date,
    bay: str,
    part: pl.DataFrame,
    make: Make,
    zones: Mapping[str, str],
    before: Piece | None,
) -> Piece:
    """Write a piece's table unless the same rows are there already."""
    content = split.content_of(part)
    fault = None
    if bay not in zones:
        told = "they say no bay" if bay == split.NO_BAY else f"bay '{bay}' is not in bays.csv"
        fault = f"{part.height:,} rows: {told}: add it there, or map it in [inbox] of profiles/{make.name}.toml"
    if before is not None and before.content == content:
        return replace(before, fault=fault, passed_over=0)
    name = sha256(f"{path}\x1f{bay}".encode()).hexdigest()[:12]
    piece = Piece(path, night, bay, f"{night}/{name}-{content[:12]}.parquet", content, fault)
    target = folder / piece.file
    target.parent.mkdir(parents=True, exist_ok=True)
    new = target.with_name(f".{target.name}.{os.getpid()}.tmp")
    part.write_parquet(new)
    os.replace(new, target)
    return piece


def _kept(folder: Path, path: str) -> dict[tuple[dt.date, str], Piece]:
    return {(one.night, one.bay_id): one for one in store.pieces(folder) if one.path == path}


def _with_kept(folder: Path, pieces: list[Piece], kept: dict[tuple[dt.date, str], Piece]) -> list[Piece]:
    """Return the pieces of a file that lost its oldest rows, as one that holds the last weeks only does every day.

    Nights before its first are kept as they were, and its first night where all its rows were there before.
    """
    if not pieces or not kept:
        return pieces
    first = min(piece.night for piece in pieces)
    now = {(piece.night, piece.bay_id): piece for piece in pieces}
    for key, before in kept.items():
        if key not in now and key[0] <= first:
            now[key] = before
        elif key in now and key[0] == first and now[key].content != before.content:
            rows, held = (set(pl.read_parquet(folder / one.file)["digest"]) for one in (now[key], before))
            if rows < held:
                (folder / now[key].file).unlink(missing_ok=True)
                now[key] = replace(before, fault=now[key].fault)
    return list(now.values())
