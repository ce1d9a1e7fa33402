"""Publishing: a complete, audited file takes the place of the old one in one rename; readers never see half a night.

The file without names is a copy of the checkpointed private database (core, mart, ops); the published file is that with
names put in. Both are named by the last night and the moment, and `current.duckdb`, a relative link, is swung over. Not
here: whether it is fit to publish (audit.py), which names may be shown (warehouse/privacy).
"""

from __future__ import annotations

import errno
import fcntl
import json
import os
import shutil
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, date, datetime
from pathlib import Path

import duckdb

from warehouse.connection import open_published
from warehouse.home import Home
from warehouse.privacy import messages, named_file
from warehouse.publishing import manifest
from warehouse.schema.registry import macros

MEASURED = (
    "date_diff('millisecond', min(started_at), max(started_at + to_milliseconds((seconds * 1000)::bigint))) / 1000",
    "max(rows) filter (step = 'exports')",
    "max(bytes) filter (step = 'exports')",
    "sum(checks)::bigint",
    "sum(checks_warned)::bigint",
)
"""What the steps of its run tell of a publication: seconds, rows loaded, bytes read, checks, checks that warned."""
SHORT = 400
"""Signs of a message for which there is room on a full disk."""
SINCE = (
    "select count(distinct night), min(night), max(night) from mart.bay_night where expected_by = 'lessons' "
    "and state = 'silent' and night > (select max(night) from mart.bay_night where files > 0)"
)
"""Nights with lessons after the last one with a file: how many, the first, the last."""
FICLONE = 0x40049409
"""Linux: share a file's blocks instead of copying them, where the file system can."""


def stamp(connection: duckdb.DuckDBPyConnection, nights_built: int, warnings: list[str]) -> datetime:
    """Write the publication's own row and the readers' macros into the private database."""
    now = datetime.now(UTC).replace(tzinfo=None)
    for macro in macros():
        connection.execute(macro)
    connection.execute(
        "insert into ops.publication select ?, max(night), count(*), coalesce(sum(shots), 0), "
        "(select count(*) from core.session), (select count(*) from core.drill_episode where kind = 'drill'), ?, ?, "
        f"{', '.join(f'(select {measured} from ops.run_step)' for measured in MEASURED)} "
        "from ops.night",
        [now, nights_built, "\n".join(warnings)],
    )
    return now


def publish(
    connection: duckdb.DuckDBPyConnection, home: Home, nights_built: int, warnings: list[str], keep: int,
    fit: Callable[[], object] = lambda: None,
) -> Path:  # fmt: skip
    """Publish the private database as it stands.

    Parameters
    ----------
    connection
        The private database (`warehouse.connection.private`), outside a transaction.
    warnings
        Checks that warned, in words.
    keep
        Versions kept, the new one among them.
    fit
        Raises where the publication's own row is not fit; nothing is published then.

    Returns
    -------
    Path
        The new version.
    """
    home.published.mkdir(parents=True, exist_ok=True)
    clear_leftovers(home)
    now = stamp(connection, nights_built, warnings)
    through = connection.execute("select max(night) from ops.night").fetchone()[0]
    version = home.published / f"{through or 'no-night'}_{now:%Y%m%dT%H%M%S%f}.duckdb"
    incoming, nameless = version.with_suffix(".incoming"), home.without_names / version.name
    nameless_incoming = nameless.with_suffix(".incoming")
    home.without_names.mkdir(parents=True, exist_ok=True)
    try:
        fit()
        connection.execute("checkpoint")
        copy(home.private / "warehouse.duckdb", nameless_incoming)
        copy(nameless_incoming, incoming)
        named_file.put_names(incoming, named_file.read_names(connection))
        with duckdb.connect(incoming, read_only=True) as published:
            published.execute("select count(*) from mart.dictionary").fetchone()
        os.replace(nameless_incoming, nameless)
        os.replace(incoming, version)
        for path in (nameless, version):
            manifest.sign(home, path, manifest.made_of(connection))
        swing(home, version)
    except BaseException:
        connection.execute("delete from ops.publication where published_at = ?", [now])
        for path in (incoming, nameless_incoming):
            path.unlink(missing_ok=True)
        if home.current.resolve() != version.resolve():
            for path in (version, nameless):
                path.unlink(missing_ok=True)
                manifest.manifest_of(path).unlink(missing_ok=True)
        raise
    prune(home, keep)
    return version


def copy(source: Path, target: Path) -> None:
    """Copy a file, sharing blocks where the file system can, and see it on disk."""
    with source.open("rb") as read, target.open("wb") as write:
        try:
            fcntl.ioctl(write, FICLONE, read.fileno())
        except OSError as fault:
            if fault.errno not in {
                errno.EOPNOTSUPP,
                errno.ENOTTY,
                errno.EXDEV,
                errno.EINVAL,
                errno.ENOSYS,
                errno.EPERM,
            }:
                raise
            shutil.copyfileobj(read, write, 16 * 1024 * 1024)
        write.flush()
        os.fsync(write.fileno())


def swing(home: Home, version: Path) -> None:
    """Point current.duckdb at a version, in one rename; then the one of the files without names."""
    for folder in (home.published, home.without_names):
        if not (folder / version.name).exists():
            continue
        link = folder / f".current.{os.getpid()}"
        link.unlink(missing_ok=True)
        link.symlink_to(version.name)
        os.replace(link, folder / home.current.name)
        _see_on_disk(folder)


def _see_on_disk(folder: Path) -> None:
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def versions(home: Home) -> list[Path]:
    """Return the published versions, newest first."""
    found = [path for path in home.published.glob("*.duckdb") if not path.is_symlink()]
    return sorted(found, key=lambda path: path.stem.rsplit("_", 1)[-1], reverse=True)


def prune(home: Home, keep: int) -> None:
    """Remove versions beyond those kept; never the current one."""
    current = home.current.resolve()
    for version in versions(home)[keep:]:
        if version != current:
            version.unlink()
            manifest.manifest_of(version).unlink(missing_ok=True)
    kept = {path.stem for path in versions(home)}
    for path in home.without_names.glob("*.*"):
        if not path.is_symlink() and path.name.removesuffix(manifest.SUFFIX).removesuffix(".duckdb") not in kept:
            path.unlink()


def clear_leftovers(home: Home) -> None:
    """Remove what a killed run left half done."""
    leftovers: list[Path] = []
    for kind in ("*.incoming*", ".current.*", f"{home.last_run.stem}.*.json"):
        leftovers += [*home.published.glob(kind), *home.without_names.glob(kind)]
    alone = home.published.glob(f"*{manifest.SUFFIX}")
    published = {path.stem for path in versions(home)}
    leftovers += [path for path in alone if path.name.removesuffix(manifest.SUFFIX) not in published]
    for leftover in leftovers:
        leftover.unlink(missing_ok=True)


def since_the_last_file(con: duckdb.DuckDBPyConnection) -> str:
    """Return, in words to go on with, that nights with lessons have passed since the last file; empty if none has."""
    try:
        nights, first, last = con.execute(SINCE).fetchone() or (0, None, None)
    except duckdb.Error:
        return ""
    if not nights:
        return ""
    span = f"{first}" if first == last else f"{first} to {last}"
    return f"; nothing arrived for {nights} night{'s' if nights > 1 else ''} with lessons since ({span})"


def in_words(home: Home, through: date | None) -> str:
    """Say through which night the latest publication is, and what has not arrived since."""
    if through is None:
        return "published; no export has landed yet"
    with open_published(home.current) as published:
        return f"published through {through}{since_the_last_file(published)}"


def latest(home: Home) -> tuple[list[str], date | None]:
    """Return the latest publication's warnings and last night."""
    with open_published(home.current) as published:
        warnings, through = published.execute(
            "select warnings, through_night from ops.publication order by published_at desc limit 1"
        ).fetchone()
    return [line for line in warnings.split("\n") if line], through


def tell_last_run(home: Home, outcome: str, through_night: str | None, message: str, warnings: list[str]) -> None:
    """Write what became of the run where every page finds it; on a full disk, over what the run before it told.

    Raises
    ------
    OSError
        It cannot be written at all.
    """
    told = {
        "finished_at": datetime.now(UTC).isoformat(timespec="seconds"),
        "outcome": outcome,
        "through_night": through_night,
        "message": messages.shown(home, message),
        "warnings": messages.shown(home, warnings),
    }
    incoming = home.last_run.with_suffix(f".{os.getpid()}.json")
    try:
        home.published.mkdir(parents=True, exist_ok=True)
        incoming.write_text(json.dumps(told, indent=2, ensure_ascii=False), encoding="utf-8")
        os.replace(incoming, home.last_run)
    except OSError:
        with suppress(OSError):
            incoming.unlink(missing_ok=True)
        _tell_over(home.last_run, told)


def _tell_over(path: Path, told: dict) -> None:
    """Write a shorter word into the room that the file has already: that asks the disk for nothing."""
    short = told | {"message": told["message"][:SHORT], "warnings": [f"{len(told['warnings'])} warnings; no room here"]}
    said = json.dumps(short if told["warnings"] else short | {"warnings": []}, ensure_ascii=False).encode()
    with path.open("r+b") as file:
        room = os.fstat(file.fileno()).st_size
        file.write(said.ljust(room))
        file.truncate()
