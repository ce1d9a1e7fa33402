"""Takes a person's id and name out of a PostgreSQL server: texts blanked, tables written anew, its log written over.

A table keeps the bytes of deleted rows until it is written anew, the server's statistics hold values of columns, and
its write-ahead log holds every change. Not here: which rows are a person's (forget.py, forget_notebook.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from sqlalchemy import URL, Connection, create_engine, text
from sqlalchemy.exc import OperationalError, ProgrammingError
from sqlalchemy.pool import NullPool

from warehouse.erasure.logs import blanked, forms, pattern

LOCK_SECONDS = 60
"""How long a table that somebody else uses is waited for."""
COLUMNS = """
select quote_ident(columns.table_name) as place, quote_ident(column_name) as named
from information_schema.columns
join information_schema.tables using (table_schema, table_name)
where table_schema = :schema and table_type = 'BASE TABLE' and data_type in ('text', 'character varying')
order by 1, 2
"""
STATISTICS = "pg_catalog.pg_statistic"
"""Where the server keeps the commonest, least and greatest values of columns; `analyze` makes a table's anew."""
RIGHTS = (
    "grant pg_checkpoint, pg_monitor, pg_read_server_files to {account}; "
    "grant execute on function pg_switch_wal(), pg_read_binary_file(text) to {account}"
)
LOG_GONE = "{place}: its write-ahead log written over"
LOG_STAYS = (
    "{place}: its write-ahead log may still hold them, since {account} may not have it written over: an administrator "
    f"gives it, in this database, `{RIGHTS}`; then run `academy forget` again"
)
LOG_KEPT = (
    "{place}: {count} files of its write-ahead log still hold them, kept for a replica, an archive or by a setting: "
    "let the server's administrator drop them"
)
BY_OWN_RULES = (
    "{place}: replicas, archived log, backups and the server's own text log (statements that failed are in it) go by "
    "their own rules: let the server's administrator see to them"
)


class ServerInUse(RuntimeError):
    """A table of the server is locked by somebody else for too long; the message says what to do."""


@dataclass(frozen=True)
class Kept:
    """Tables of a server that held somebody: all of a schema, or `only` those named."""

    url: URL
    schema: str
    only: tuple[str, ...] = ()


def place(url: URL) -> str:
    """Return how a server's database is named in what is printed."""
    return f"PostgreSQL {url.host or 'on this machine'}{f':{url.port}' if url.port else ''}/{url.database}"


def blank(url: URL, schema: str, words: Iterable[str]) -> int:
    """Blank words in every text of a schema's tables; return in how many values they stood.

    Raises
    ------
    ServerInUse
        A table is locked by somebody else.
    """
    told = sorted(words)
    named, count = pattern(told), 0
    given = {f"word{at}": form for at, form in enumerate(forms(told))}
    with _connected(url) as connection, connection.begin():
        for table, column in connection.execute(text(COLUMNS), {"schema": schema}).all():
            where = " or ".join(f"strpos({column}, :{word}) > 0" for word in given)
            asked = text(f'select ctid::text, {column} from "{schema}".{table} where {where} for update')
            for row, held in connection.execute(asked, given).all():
                if (left := blanked(named, held)) != held:
                    change = text(f'update "{schema}".{table} set {column} = :left where ctid = cast(:row as tid)')
                    count += connection.execute(change, {"left": left, "row": row}).rowcount
    return count


def write_anew(kept: Iterable[Kept], words: Iterable[str]) -> list[str]:
    """Write tables anew, then the log of every server over, once; return what was done and what is left to do.

    Raises
    ------
    ServerInUse
        A table is locked by somebody else.
    """
    servers, said = {}, []
    for one in kept:
        servers[place(one.url)] = one.url
        said += _tables_written_anew(one)
    for where, url in servers.items():
        said += [_log_written_over(url, words), BY_OWN_RULES.format(place=where)]
    return said


def _tables_written_anew(kept: Kept) -> list[str]:
    where = place(kept.url)
    with _connected(kept.url, "AUTOCOMMIT") as connection:
        asked = "select tablename, quote_ident(tablename) from pg_tables where schemaname = :schema order by 1"
        found = connection.execute(text(asked), {"schema": kept.schema}).all()
        tables = [named for name, named in found if not kept.only or name in kept.only]
        for table in tables:
            connection.execute(text(f'vacuum (full, analyze) "{kept.schema}".{table}'))
        connection.execute(text(f"vacuum full {STATISTICS}"))
        skipped = [told.strip().split("\n")[0] for told in connection.connection.driver_connection.notices]
    said = f"{where}: {len(tables)} tables of {kept.schema} written anew"
    return [said, *(f"{where}: {told}: let its owner run it" for told in skipped if "skipping" in told)]


def _log_written_over(url: URL, words: Iterable[str]) -> str:
    """Write a server's write-ahead log over where its rights allow; say how it went."""
    with _connected(url, "AUTOCOMMIT") as connection:
        (account,) = connection.execute(text("select quote_ident(current_user)")).one()
        try:
            held = _log_gone_through(connection, words)
        except ProgrammingError:
            return LOG_STAYS.format(place=place(url), account=account)
    return LOG_KEPT.format(place=place(url), count=held) if held else LOG_GONE.format(place=place(url))


def _log_gone_through(connection: Connection, words: Iterable[str]) -> int:
    """Write every file of the log over; return how many of its files still hold the words.

    First, all that recovery needs is put behind the last file that holds anything; then every file, those kept for use
    again too, is gone through: the server fills what is left of a file with zeros when it goes on to the next.
    """

    def next_file() -> None:
        connection.execute(text("select pg_logical_emit_message(true, 'academy', 'next file')"))
        connection.execute(text("select pg_switch_wal()"))

    next_file()
    connection.execute(text("checkpoint"))
    (files,) = connection.execute(text("select count(*) from pg_ls_waldir()")).one()
    for _ in range(files + 1):
        next_file()
    connection.execute(text("checkpoint"))
    given = {f"word{at}": form.encode() for at, form in enumerate(forms(words))}
    asked = " or ".join(f"position(cast(:{word} as bytea) in held) > 0" for word in given)
    found = connection.execute(
        text(
            "with files as (select pg_read_binary_file('pg_wal/' || name) as held from pg_ls_waldir()) "
            f"select count(*) from files where {asked}"
        ),
        given,
    )
    return int(found.scalar_one())


@contextmanager
def _connected(url: URL, isolation: str = "READ COMMITTED") -> Iterator[Connection]:
    engine = create_engine(url, poolclass=NullPool, isolation_level=isolation)
    try:
        with engine.connect() as connection:
            connection.execute(text(f"set lock_timeout = '{LOCK_SECONDS}s'"))
            connection.rollback() if isolation == "AUTOCOMMIT" else connection.commit()
            yield connection
    except OperationalError as fault:
        if "lock timeout" not in str(fault):
            raise
        raise ServerInUse(f"{place(url)} is in use: stop who works on it and try again") from fault
