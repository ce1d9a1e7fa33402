"""How long raw shots are kept: older nights' are removed once the night is built, and read again where it changes.

core, mart and ops keep every night. A night whose raw shots are gone stays as it was built; when its lessons, settings
or the models change, its exports are read again from the landing folder first. A rebuild takes what landing holds.
Not here: which nights changed (nights.py).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from pathlib import Path

import duckdb

from warehouse.landing.exports import load
from warehouse.landing.exports.discover import hash_or_none
from warehouse.schema.core import NIGHT
from warehouse.schema.declaration import PERSON, Column, Table
from warehouse.settings.settings import Limits

TRIMMED_NIGHT = Table(
    "raw.trimmed_night", "one night whose raw shots were removed", ("night",), (NIGHT,), published=False
)
TRIMMED_STUDENT = Table(
    "raw.trimmed_student",
    "one student named by the exports of a night whose raw shots were removed",
    ("night", "student_id"),
    (
        NIGHT,
        Column(
            "student_id", "VARCHAR", "As the export says; so that a corrected hand is still noticed.", personal=PERSON
        ),
    ),
    published=False,
)


def create_tables(connection: duckdb.DuckDBPyConnection) -> None:
    """Create the books of what was removed where they are not there yet."""
    for table in (TRIMMED_NIGHT, TRIMMED_STUDENT):
        connection.execute(table.ddl())


def trim(connection: duckdb.DuckDBPyConnection, keep: int) -> list[date]:
    """Remove raw shots of all but the latest nights; return the nights trimmed.

    Parameters
    ----------
    connection
        The private database, outside a transaction, after a publication.
    keep
        Nights kept, the latest with shots; 0: all.
    """
    if not keep:
        return []
    create_tables(connection)
    nights = [
        row[0]
        for row in connection.execute(
            "select distinct night from raw.shot "
            "where night < (select min(night) from "
            "(select distinct night from raw.shot union select night from raw.trimmed_night order by night desc "
            "limit $1)) and night in (select night from ops.night where not starts_with(fingerprint, 'not yet')) "
            "order by night",
            [keep],
        ).fetchall()
    ]
    if not nights:
        return []
    connection.execute("begin")
    try:
        for statement in (
            "delete from raw.trimmed_night where list_contains($1, night)",
            "delete from raw.trimmed_student where list_contains($1, night)",
            "insert into raw.trimmed_night select unnest($1)::date",
            "insert into raw.trimmed_student select distinct night, student_id from raw.shot "
            "where list_contains($1, night) and student_id is not null",
            "delete from raw.shot where list_contains($1, night)",
        ):
            connection.execute(statement, [nights])
        connection.execute("commit")
    except BaseException:
        connection.execute("rollback")
        raise
    connection.execute("checkpoint raw")
    return nights


def take_back(
    connection: duckdb.DuckDBPyConnection, landing: Path, nights: Iterable[date], limits: Limits
) -> list[date]:
    """Read again the exports of nights that are to be built and whose raw shots are gone.

    Returns
    -------
    list of date
        Nights whose exports the landing folder no longer holds as they were read: they must stay as they were built.
    """
    create_tables(connection)
    gone = {row[0] for row in connection.execute("select night from raw.trimmed_night").fetchall()}
    lost = []
    for night in sorted(gone & set(nights)):
        wanted = dict(
            connection.execute(
                "select path, content_hash from raw.export_file where night = $1 and in_force", [night]
            ).fetchall()
        )
        files = [file for file in load.present(landing, night).files if file.path in wanted]
        whole = {file.path for file in files if hash_or_none(file.location(landing)) == wanted[file.path]}
        if whole != set(wanted):
            lost.append(night)
            continue
        load.load(connection, landing, files, limits=limits)
        for table in (TRIMMED_STUDENT, TRIMMED_NIGHT):
            connection.execute(f"delete from {table.name} where night = $1", [night])
    return lost
