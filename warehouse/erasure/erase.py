"""Takes a person out of all that an academy keeps, and gives out a copy of all that is held on them.

Databases are written anew without the person, since a database keeps the bytes of deleted rows. Not here: which rows
are theirs (rows.py), landing files (landing.py), logs (logs.py), asking twice first.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import polars as pl

from warehouse.erasure.inbox import forget_in_inbox
from warehouse.erasure.landing import files_named_after, holding, mentions, rewrite, rows_of
from warehouse.erasure.logs import forget_logs, pattern
from warehouse.erasure.notebook import entries_of, forget_entries, on_servers
from warehouse.erasure.postgres import write_anew
from warehouse.erasure.rows import StillOpen, opened, rewritten, rows_held, take_rows_out, text_columns
from warehouse.home import Home
from warehouse.privacy import withheld
from warehouse.publishing import manifest
from warehouse.settings.settings import Settings

__all__ = ["StillOpen", "databases", "forget", "held_on", "names_of", "rewritten", "rows_held", "take_rows_out"]


def forget(
    home: Home,
    student_id: str,
    *,
    notebook_url: str = "",
    rewrite_landing: bool = False,
    settings: Settings | None = None,
) -> list[str]:
    """Remove a student from private and published databases, the notebook and, if asked, the landing folder.

    Parameters
    ----------
    home
        The home folder; no run may be at work in it (hold `warehouse.connection.only_run`).
    notebook_url
        As in settings; empty: notebook.sqlite in the home.
    rewrite_landing
        Also rewrite tables and exports in landing that hold the id; else they are named.
    settings
        Where they name a lakehouse, the student is taken out of it too.

    Returns
    -------
    list of str
        What was done and what is left to do, a line each, without the person's name.

    Raises
    ------
    StillOpen
        A private database is in use by another process.
    """
    if not student_id.strip():
        raise ValueError("no student is given: give the student_id")
    lessons, said = set[str](), list[str]()
    names = names_of(home, student_id)
    unreadable = home.private / "unreadable"
    if unreadable.exists():
        shutil.rmtree(unreadable)
        said.append(f"{unreadable.relative_to(home.path)}: deleted, since what it holds cannot be opened and searched")
    for path in databases(home):
        with manifest.still_signed(home, path):
            rows, own = _rewrite_database(path, student_id, lessons, names)
        lessons |= own
        said.append(f"{path.relative_to(home.path)}: {rows} rows taken out, file written anew")
    if settings is not None and settings.lakehouse.on:
        from warehouse.lakehouse import forgetting

        said += forgetting.forget(home, settings, student_id, lessons, names)
    count = forget_entries(home.notebook_url(notebook_url), student_id, lessons, names)
    said.append(f"notebook: {count} entries taken out")
    said += forget_logs(home, {student_id, *names})
    said += _forget_private_files(home)
    kept = on_servers(home.notebook_url(notebook_url))
    if settings is not None and settings.lakehouse.on:
        said += forgetting.forget_history(settings, {student_id, *names})
        kept += forgetting.on_servers(settings)
    said += write_anew(kept, {student_id, *names})
    said += forget_in_inbox(home, student_id, names, rewrite_landing=rewrite_landing)
    held = {path: rewrite(home.landing, path, student_id) if rewrite_landing else "" for path in
            holding(home.landing, student_id)}  # fmt: skip
    still = " still holds them: the next night brings it back unless the file is rewritten"
    said += [f"{path.relative_to(home.path)}{f': {done}' if done else still}" for path, done in held.items()]
    said += files_named_after(home, names, rename=rewrite_landing)
    for path in mentions(home.path, student_id, *names):
        place = path.relative_to(home.path)
        if home.landing not in path.parents:
            said.append(f"{place} still mentions the id or the name: delete the file or wait for its expiry")
        elif held.get(path, "rewritten").endswith(("rewritten", "taken out")):
            said.append(f"{place} still names them, or another of that name: look, and correct the file by hand")
    said.append("backups and copies made before now still hold them: delete those, or forget again what comes back")
    said.append("close and open the dashboard: an open reader still shows, and keeps on disk, the file it opened")
    said.append("run academy nightly --rebuild: numbers over many people were computed with this student")
    return [pattern(names).sub(line) if names else line for line in said]


def _forget_private_files(home: Home) -> list[str]:
    """Delete what the next night makes again of the landing folder and may hold the person."""
    said = []
    if (home.private / withheld.FILE).exists():
        (home.private / withheld.FILE).unlink()
        said.append(f"{home.private.name}/{withheld.FILE}: deleted, the next night writes it again")
    return said


def held_on(
    home: Home, student_id: str, *, notebook_url: str = "", settings: Settings | None = None
) -> dict[str, pl.DataFrame]:
    """Return all that is held on a student: by `file: table`, their rows of every table that has any.

    Read are the private databases, the current published file, the lakehouse where settings name one, and the notebook
    with entries since corrected.
    """
    held: dict[str, pl.DataFrame] = {}
    paths = [path for path in databases(home) if path.parent == home.private.resolve()]
    paths += [home.current.resolve()] if home.current.exists() else []
    lessons, names = set[str](), names_of(home, student_id)
    for path in paths:
        with opened(path, read_only=True) as connection:
            for table, rows in rows_held(connection, student_id, lessons, names).items():
                held[f"{path.name}: {table}"] = rows
    if settings is not None and settings.lakehouse.on:
        from warehouse.lakehouse import forgetting

        for table, rows in forgetting.held_on(home, settings, student_id, lessons).items():
            held[f"lakehouse: {table}"] = rows
    for name, rows in entries_of(home.notebook_url(notebook_url), student_id, lessons, names).items():
        held[f"notebook: {name}"] = rows
    return held


def databases(home: Home) -> list[Path]:
    """Return the database files of a home: private ones, then every published version, also without names; no links."""
    folders = (home.private, home.published, home.without_names)
    found = [path for folder in folders for path in sorted(folder.glob("*.duckdb"))]
    return [path for path in found if not path.is_symlink()]


def names_of(home: Home, student_id: str) -> set[str]:
    """Return the names under which a student is held, in the home's databases and in the landing folder."""
    landed = rows_of(home.landing / "academy" / "students.csv")
    found = {row.get("name") for row in landed if row.get("student_id") == student_id}
    for path in databases(home):
        with opened(path, read_only=True) as connection:
            for table, columns in text_columns(connection).items():
                if {"student_id", "name"} <= set(columns):
                    held = connection.execute(f"select distinct name from {table} where student_id = ?", [student_id])
                    found |= {name for (name,) in held.fetchall()}
    return {name for name in found if name and name != student_id}


def _rewrite_database(path: Path, student_id: str, lessons: set[str], names: set[str]) -> tuple[int, set[str]]:
    """Put in a file's place one without the student; return rows taken out and ids of their lessons and sessions."""
    return rewritten(path, lambda connection: take_rows_out(connection, student_id, lessons, names))
