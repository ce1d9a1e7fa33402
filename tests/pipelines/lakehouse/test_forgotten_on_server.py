"""A person forgotten where a PostgreSQL server keeps catalog, notebook and Dagster's history: not a byte stays there.

Looked for in the server's own files, its write-ahead log and its statistics of columns among them.
"""

from __future__ import annotations

import os
import subprocess
import zlib
from datetime import date
from pathlib import Path

import dagster as dg
import duckdb
import pytest
from sqlalchemy import create_engine, text

from tests.pipelines.killed_night import PUBLISHED, night
from tests.pipelines.lakehouse.conftest import landed, on_lakehouse
from tests.pipelines.test_forget_whole_home import NAME, WHO, holders, one_more
from tests.postgres_server import PostgresServer
from warehouse.connection import HomeIsBusy
from warehouse.erasure.erase import forget, held_on
from warehouse.erasure.postgres import Kept, blank, write_anew
from warehouse.home import Home
from warehouse.lakehouse import lease
from warehouse.lakehouse.attachment import Lake, server
from warehouse.notebook import actions
from warehouse.notebook.store import open_store
from warehouse.settings.settings import load

SCHEMA = "forgotten"


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory, postgres: PostgresServer) -> Home:
    """The sample as two sites, with one more student, a row that names the student in words, and a shared notebook."""
    home = landed(tmp_path_factory.mktemp("on-server"), 2)
    one_more(home / "landing")
    url = f"{postgres.sqlalchemy_url}?options=-csearch_path%3D{SCHEMA}_notebook"
    with_all_rights(postgres, f'create schema "{SCHEMA}_notebook"')
    store = open_store(url)
    actions.set_goal(store, student_id=WHO, words=f"{NAME} hits it far", metric="carry", club_group="driver",
                     target=220, by="coach")  # fmt: skip
    actions.hold(store, student_id=WHO, drill_id="D01", until=date(2026, 6, 1), by="coach")
    store.close()
    on_lakehouse(home, postgres.url, SCHEMA)
    (home / "academy.toml").write_text((home / "academy.toml").read_text() + f'[notebook]\nurl = "{url}"\n')
    done = night(home)
    assert done.outcome in PUBLISHED, done.message
    with_all_rights(postgres, "analyze", "checkpoint")
    return Home(home)


def with_all_rights(postgres: PostgresServer, *statements: str, database: str = "lake") -> None:
    """Run statements as the server's administrator."""
    url = server(postgres.url).set(database=database)
    with create_engine(url, isolation_level="AUTOCOMMIT").connect() as connection:
        for statement in statements:
            connection.execute(text(statement))


def server_files(postgres: PostgresServer) -> list[str]:
    """Return the server's files, its log among them, whose bytes hold the id or the name."""
    return [
        str(path.relative_to(postgres.folder))
        for path in postgres.folder.rglob("*")
        if any(word.encode() in bytes_of(path) for word in (WHO, NAME))
    ]


def bytes_of(path: Path) -> bytes:
    """Return a file's bytes; none of a folder, nor of a file that the server has removed meanwhile."""
    try:
        return path.read_bytes() if path.is_file() else b""
    except FileNotFoundError:
        return b""


def server_texts(postgres: PostgresServer) -> set[str]:
    """Return the tables whose values, unpacked, hold the id or the name; the server packs long ones."""
    found = set()
    with create_engine(postgres.sqlalchemy_url).connect() as connection:
        tables = connection.execute(
            text("select schemaname, tablename from pg_tables where schemaname like :ours"), {"ours": f"{SCHEMA}%"}
        ).all()
        for schema, table in tables:
            for row in connection.execute(text(f'select * from "{schema}"."{table}"')).all():
                told = [zlib.decompress(cell).decode() if isinstance(cell, memoryview | bytes) else str(cell)
                        for cell in row]  # fmt: skip
                if any(word in cell for cell in told for word in (WHO, NAME)):
                    found.add(f"{schema}.{table}")
    return found


def lake_texts(home: Home) -> set[str]:
    """Return the lakehouse's files in which a text holds the id or the name."""
    words = f"{WHO}|{NAME}"
    return {
        str(path)
        for path in (home.path / "lake").rglob("*.parquet")
        if duckdb.execute(f"select count(*) from '{path}' as t where regexp_matches(t::varchar, '{words}')").fetchone()
        != (0,)
    }


def others(home: Home) -> list[tuple]:
    """Return how many shots each other student has on the lakehouse."""
    with duckdb.connect() as connection:
        lake = Lake.open(connection, home, load(home.path))
        return lake.read(f"select student_id, count(*) from lake.core.shot where student_id <> '{WHO}' "
                         "group by all order by all")  # fmt: skip


def test_while_a_site_is_at_work_nobody_is_forgotten_halfway(ran: Home) -> None:
    settings = load(ran.path)
    with (
        lease.held(ran, settings.lakehouse, lease.site("low")),
        pytest.raises(HomeIsBusy, match="at work on site low"),
    ):
        forget(ran, "nobody", settings=settings, notebook_url=settings.notebook.url)


def test_not_a_byte_stays_in_the_lakehouse_s_files_nor_in_those_of_the_server(
    ran: Home, postgres: PostgresServer
) -> None:
    settings = load(ran.path)
    assert any(file.startswith("data/base/") for file in server_files(postgres))
    assert any(file.startswith("data/pg_wal/") for file in server_files(postgres))
    kept_by = server_texts(postgres)
    assert {f"{SCHEMA}.ducklake_table_column_stats", f"{SCHEMA}.ducklake_file_column_stats",
            f"{SCHEMA}_notebook.goal"} <= kept_by  # fmt: skip
    assert lake_texts(ran)
    before = others(ran)

    said = forget(ran, WHO, rewrite_landing=True, settings=settings, notebook_url=settings.notebook.url)
    assert server_texts(postgres) == set()
    assert server_files(postgres) == []
    assert lake_texts(ran) == set()
    assert holders(ran.path) == set()
    assert held_on(ran, WHO, settings=settings, notebook_url=settings.notebook.url) == {}
    assert others(ran) == before
    assert not any(NAME in line for line in said)
    assert [line for line in said if line.endswith("its write-ahead log written over")]
    assert [line for line in said if "replicas, archived log, backups" in line]
    assert [line for line in said if line.startswith("landing/academy/observations.csv still names them")]

    os.environ["DAGSTER_HOME"] = str(ran.private / "dagster")
    with dg.DagsterInstance.get() as instance:
        runs = instance.get_runs()
        assert len(runs) == 3
        assert all(instance.all_logs(run.run_id) for run in runs)
    (ran.landing / "academy" / "observations.csv").unlink()
    done = night(ran.path)
    assert done.outcome in PUBLISHED, done.message
    assert others(ran) == before
    assert server_files(postgres) == []


def test_an_account_without_rights_is_told_what_it_needs_and_then_leaves_nothing(postgres: PostgresServer) -> None:
    with_all_rights(postgres, "create role plain login", "create database plain owner plain")
    url = server(postgres.url).set(username="plain", database="plain")
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(text("create table kept as select 'QX88Z of ' || n as said from generate_series(1, 9) as n"))
    kept = [Kept(url, "public")]
    assert blank(url, "public", {"QX88Z"}) == 9
    told = write_anew(kept, {"QX88Z"})
    (asked,) = [line for line in told if "may still hold them" in line]
    for grant in asked.split("`")[1].split("; "):
        with_all_rights(postgres, grant, database="plain")
    assert [line for line in write_anew(kept, {"QX88Z"}) if line.endswith("its write-ahead log written over")]
    found = subprocess.run(["grep", "-rlF", "QX88Z", str(postgres.folder / "data")], capture_output=True, check=False)
    assert found.stdout == b""


def test_a_log_that_a_replica_still_needs_is_named(postgres: PostgresServer) -> None:
    with_all_rights(postgres, "select pg_create_physical_replication_slot('replica', true)",
                    "create table public.kept as select 'QX99Z' as said")  # fmt: skip
    try:
        blank(server(postgres.url), "public", {"QX99Z"})
        told = write_anew([Kept(server(postgres.url), "public", ("kept",))], {"QX99Z"})
        assert [line for line in told if "files of its write-ahead log still hold them" in line]
    finally:
        with_all_rights(postgres, "select pg_drop_replication_slot('replica')", "drop table public.kept")
