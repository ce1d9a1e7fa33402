"""Backup and restore of what cannot be made again: the notebook, academy.toml and, if asked, the landing folder.

Databases are not in it: private and published ones are built again from the landing folder by the next night. A
backup is a folder with a list of its files and their hashes, complete or not there. Not here: where it is sent.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from warehouse.home import Home

LIST, FORM = "backup.json", 1
NOTEBOOK, SETTINGS, LANDING = "notebook.sqlite", "academy.toml", "landing"
REBUILT = "databases are not in it: `academy nightly` builds them again from the landing folder"
BUSY_SECONDS = 60
LOGS = ("-wal", "-shm", "-journal")
"""What SQLite keeps beside a database."""


class BackupFault(ValueError):
    """A backup that cannot be made or taken back; the message says why and what to do."""


def back_up(home: Home, into: Path, *, landing: bool = False, notebook_url: str = "") -> list[str]:
    """Copy a home's own data into a new folder, consistent though people write the notebook meanwhile.

    Parameters
    ----------
    home
        The academy's folder.
    into
        A folder that does not exist yet; it appears when it is complete.
    landing
        Whether the landing folder is copied too.
    notebook_url
        As in settings; a notebook on a database server is left to that server's own backup.

    Returns
    -------
    list of str
        What was done, a line each.

    Raises
    ------
    BackupFault
        The folder exists, or there is nothing to back up.
    """
    if into.exists():
        raise BackupFault(f"{into} exists already: give a folder that does not")
    if into.absolute().is_relative_to(home.landing):
        raise BackupFault(f"{into} is in the landing folder, which is never written: give another")
    if not home.path.is_dir():
        raise BackupFault(f"{home.path} does not exist")
    into.parent.mkdir(parents=True, exist_ok=True)
    making = Path(tempfile.mkdtemp(prefix=f".{into.name}.", dir=into.parent))
    try:
        said = list(_copy_parts(home, making, landing, notebook_url))
        files = {str(path.relative_to(making)): digest(path) for path in _plain_files(making)}
        if not files:
            raise BackupFault(f"{home.path} holds neither notebook nor academy.toml: nothing to back up")
        listed = {"form": FORM, "made_at": datetime.now(UTC).isoformat(timespec="seconds"), "files": files}
        (making / LIST).write_text(json.dumps(listed, indent=1, ensure_ascii=False), encoding="utf-8")
        for path in (*_plain_files(making), making):
            _to_disk(path)
        os.rename(making, into)
        _to_disk(into.parent)
    except BaseException:
        shutil.rmtree(making, ignore_errors=True)
        raise
    return [*said, f"{len(files):,} files in {into}", REBUILT]


def _copy_parts(home: Home, making: Path, landing: bool, notebook_url: str) -> Iterator[str]:
    if notebook_url and not notebook_url.startswith("sqlite"):
        yield "the notebook is in a database of its own: back it up there"
    elif (source := _notebook_file(home, notebook_url)).exists():
        copy_sqlite(source, making / NOTEBOOK)
        yield "notebook copied"
    if (home.path / SETTINGS).exists():
        shutil.copy2(home.path / SETTINGS, making / SETTINGS)
        yield "academy.toml copied"
    if landing and home.landing.is_dir():
        shutil.copytree(home.landing, making / LANDING, symlinks=True)
        yield "landing folder copied"
    elif not landing:
        yield "the landing folder is not in it: keep it by other means, or give --landing"


def _notebook_file(home: Home, url: str) -> Path:
    return Path(url.split("///", 1)[1]) if url else home.path / NOTEBOOK


def copy_sqlite(source: Path, target: Path) -> None:
    """Copy a SQLite database as of one moment, by its backup interface, writers at work or not.

    Raises
    ------
    BackupFault
        The source is damaged.
    """
    try:
        read = sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True, timeout=BUSY_SECONDS)
        write = sqlite3.connect(target)
        try:
            read.backup(write)
            write.execute("pragma journal_mode = delete")
            (found,) = write.execute("pragma integrity_check").fetchone()
        finally:
            write.close()
            read.close()
    except sqlite3.Error as fault:
        raise BackupFault(f"{source.name} cannot be copied ({fault}): look at it by `academy doctor`") from fault
    if found != "ok":
        raise BackupFault(f"{source.name} is damaged ({found}): take an older backup")


def restore(home: Home, source: Path, *, replace: bool = False, notebook_url: str = "") -> list[str]:
    """Take a backup back into a home; every file is checked before the first is written.

    Parameters
    ----------
    home
        The academy's folder, made where there is none; no run may be at work in it and nobody may write the notebook.
    source
        A folder that `back_up` made.
    replace
        Whether what is there may be replaced; it is kept beside, under a name with the moment.
    notebook_url
        As in settings.

    Raises
    ------
    BackupFault
        The backup is not whole, or something is there and may not be replaced. Nothing is changed then.
    """
    files = _checked(source)
    notebook = _notebook_file(home, notebook_url if notebook_url.startswith("sqlite") else "")
    targets = {NOTEBOOK: notebook, SETTINGS: home.path / SETTINGS, LANDING: home.landing}
    given = [name for name in targets if any(file.split("/")[0] == name for file in files)]
    there = [name for name in given if targets[name].exists()]
    if there and not replace:
        raise BackupFault(f"{home.path} has {', '.join(there)} already: give --replace, and they are kept beside")
    home.path.mkdir(parents=True, exist_ok=True)
    moment = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
    said = []
    for name in given:
        target = targets[name]
        incoming = target.with_name(f".{target.name}.{moment}")
        shutil.rmtree(incoming, ignore_errors=True)
        copy = shutil.copytree if (source / name).is_dir() else shutil.copy2
        copy(source / name, incoming, **({"symlinks": True} if copy is shutil.copytree else {}))
        for end in ("", *LOGS):
            # An old log must never meet a new database, and stays with its own.
            there_now = target.with_name(target.name + end)
            if there_now.exists():
                os.rename(there_now, target.with_name(f"{target.name}.before-{moment}{end}"))
        os.rename(incoming, target)
        said.append(f"{name} is back" + (f"; what was there is {target.name}.before-{moment}" if name in there else ""))
    _to_disk(home.path)
    return [*said, REBUILT]


def _checked(source: Path) -> dict[str, str]:
    try:
        listed = json.loads((source / LIST).read_text(encoding="utf-8"))
        form, files = listed["form"], dict(listed["files"])
    except (OSError, ValueError, KeyError, TypeError) as fault:
        raise BackupFault(f"{source} is no backup: its {LIST} cannot be read ({fault})") from None
    if form != FORM:
        raise BackupFault(f"{source} is of form {form}, and this program reads {FORM}: update the program")
    for name, said in files.items():
        path = source / name
        if ".." in Path(name).parts or Path(name).is_absolute() or name.split("/")[0] not in (
            NOTEBOOK, SETTINGS, LANDING
        ):  # fmt: skip
            raise BackupFault(f"{source}: {name} has no place in a home")
        if not path.is_file() or digest(path) != said:
            raise BackupFault(f"{source}: {name} is missing or not as it was: take another backup")
    return files


def digest(path: Path) -> str:
    """Return the SHA-256 of a file's bytes, or of a link's target."""
    if path.is_symlink():
        return "link " + os.readlink(path)
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _plain_files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_symlink() or path.is_file())


def _to_disk(path: Path) -> None:
    """See a file or folder on disk."""
    if path.is_symlink():
        return
    opened = os.open(path, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
