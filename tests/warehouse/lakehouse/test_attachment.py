"""What the lakehouse needs to be used: settings without passwords, extensions that fit, a catalog's address."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import duckdb
import pytest

from warehouse.home import Home
from warehouse.lakehouse import attachment, tables
from warehouse.lakehouse.attachment import Lake, LakehouseUnfit, catalog, data_path, extension
from warehouse.lakehouse.tables import BY_NIGHT, OF_EXPORTS
from warehouse.settings.lakehouse import Lakehouse
from warehouse.settings.settings import Settings, SettingsFault, commented_toml, load


def written(home: Path, text: str) -> Path:
    """Write academy.toml."""
    (home / "academy.toml").write_text(text, encoding="utf-8")
    return home


def test_without_the_section_everything_stays_in_one_file() -> None:
    assert not Settings().lakehouse.on
    assert "[lakehouse]" in commented_toml()


@pytest.mark.parametrize(
    ("catalog", "said"),
    [
        ("postgresql://academy:secret@db/lake", "PGPASSWORD"),
        ("mysql://academy@db/lake", "postgresql://"),
    ],
)
def test_a_password_or_another_server_in_the_settings_is_refused_with_the_remedy(
    tmp_path: Path, catalog: str, said: str
) -> None:
    with pytest.raises(SettingsFault, match=said) as fault:
        load(written(tmp_path, f'[lakehouse]\ncatalog = "{catalog}"\n'))
    assert "lakehouse.catalog" in str(fault.value)


def test_a_server_s_url_becomes_what_the_client_library_reads() -> None:
    settings = Lakehouse(catalog="postgresql://academy@db.academy:5433/lake?sslmode=require")
    assert catalog(settings, Home(Path("/home/academy"))) == (
        "postgres:host='db.academy' port='5433' dbname='lake' user='academy' sslmode='require'"
    )


def test_a_file_and_a_folder_are_taken_from_the_home_and_an_object_store_as_it_is() -> None:
    home = Home(Path("/srv/home"))
    assert catalog(Lakehouse(catalog="catalog.ducklake"), home) == "/srv/home/catalog.ducklake"
    assert data_path(Lakehouse(catalog="c"), home) == "/srv/home/lake"
    assert data_path(Lakehouse(catalog="c", data_path="s3://bucket/lake"), home) == "s3://bucket/lake"


def test_the_extensions_that_are_installed_fit_this_duckdb_and_load_without_a_download() -> None:
    with duckdb.connect(config={"autoinstall_known_extensions": "false"}) as connection:
        for name in ("ducklake", "postgres_scanner", "httpfs"):
            connection.execute(f"load '{extension(name)}'")
        loaded = connection.execute("select extension_name from duckdb_extensions() where loaded").fetchall()
    assert {"ducklake", "postgres_scanner", "httpfs"} <= {row[0] for row in loaded}


def test_an_extension_that_is_missing_or_of_another_version_says_what_to_install(monkeypatch) -> None:
    with pytest.raises(LakehouseUnfit, match=r"not installed: pip install 'drill-evidence\[lakehouse\]'"):
        extension("no_such")
    monkeypatch.setattr(attachment.duckdb, "__version__", "9.9.9")
    with pytest.raises(LakehouseUnfit, match=r"DuckDB is 9.9.9 .* is for v.*pip install 'drill-evidence\[lakehouse\]'"):
        extension("ducklake")


@pytest.fixture
def lake(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Lake]:
    """A lakehouse whose attachment and pauses cost nothing: what a step meets is up to the test."""
    monkeypatch.setattr(attachment, "attach", lambda *_: None)
    monkeypatch.setattr(attachment.time, "sleep", lambda _: None)
    with duckdb.connect() as connection:
        yield Lake(connection, Home(tmp_path), Lakehouse(catalog="catalog.ducklake"))


def step_after(faults: list[duckdb.Error]) -> Callable[[], str]:
    """A step that meets these faults, one each time it is run, before it comes through."""
    left = iter(faults)

    def step() -> str:
        for fault in left:
            raise fault
        return "done"

    return step


AWAY = (
    'Failed to commit: Failed to execute query "ROLLBACK": ',
    'Failed to execute query "BEGIN TRANSACTION ISOLATION LEVEL REPEATABLE READ": ',
    "Failed to get global stats information from DuckLake: Current transaction is aborted (please ROLLBACK)",
    "Unable to connect to Postgres: connection to server failed: FATAL: the database system is starting up",
)


@pytest.mark.parametrize("said", AWAY)
def test_a_catalog_that_is_away_is_asked_until_it_answers(lake: Lake, said: str) -> None:
    faults: list[duckdb.Error] = [duckdb.TransactionException(said)] * 40
    assert lake.once(step_after(faults)) == "done"
    assert lake.repeated == 40


def test_a_fault_in_words_never_seen_is_met_five_times_and_told_the_sixth(lake: Lake) -> None:
    fault = duckdb.IOException('Failed to execute query "SELECT 1": ERROR: permission denied for schema lake')
    assert lake.once(step_after([fault] * 5)) == "done"
    with pytest.raises(duckdb.IOException, match="permission denied for schema lake"):
        lake.once(step_after([fault] * 6))


WHILE_BOUND = (
    "Failed to query most recent snapshot for DuckLake: Failed to describe prepared statement: server closed the "
    "connection unexpectedly\n\tThis probably means the server terminated abnormally\n\nLINE 2: SELECT * FROM post",
    'Failed to get data file list from DuckLake: Failed to prepare query "SELECT data_file_id": \n\nLINE 2: SELECT',
)
"""As met by ending a server's processes while steps were at work; the second, when it was silent."""


@pytest.mark.parametrize("said", WHILE_BOUND)
def test_a_catalog_that_goes_away_while_a_step_is_bound_is_asked_again(lake: Lake, said: str) -> None:
    assert lake.once(step_after([duckdb.BinderException(f"Binder Error: {said}")] * 4)) == "done"
    assert lake.repeated == 4


@pytest.mark.parametrize(
    "fault",
    [
        duckdb.BinderException('Binder Error: Referenced column "nights" not found in FROM clause'),
        duckdb.OutOfMemoryException("Out of Memory Error: failed to allocate data of size 256.0 KiB"),
        duckdb.ParserException('Parser Error: syntax error at or near "selct"'),
    ],
)
def test_each_kind_of_own_fault_is_told_at_once(lake: Lake, fault: duckdb.Error) -> None:
    with pytest.raises(type(fault)):
        lake.once(step_after([fault]))
    assert lake.repeated == 0


def test_a_step_s_own_fault_is_told_at_once(lake: Lake) -> None:
    with pytest.raises(duckdb.ConversionException):
        lake.once(step_after([duckdb.ConversionException("Could not convert string 'x' to INT32")]))
    assert lake.repeated == 0


def test_a_conflict_keeps_the_attachment_and_any_other_fault_attaches_anew(lake: Lake, monkeypatch) -> None:
    attached: list[str] = []
    monkeypatch.setattr(attachment, "attach", lambda *_: attached.append("anew"))
    lake.once(step_after([duckdb.TransactionException("Transaction conflict: table was altered")]))
    assert attached == []
    lake.once(step_after([duckdb.IOException("something never seen")]))
    assert attached == ["anew"]


def test_beside_a_connection_it_is_attached_by_its_first_step_and_a_list_of_tables_asks_no_catalog_before(
    tmp_path: Path,
) -> None:
    attached = f"select count(*) from duckdb_databases() where database_name = '{attachment.NAME}'"
    with duckdb.connect() as connection:
        lake = Lake.beside(connection, Home(tmp_path), Settings(lakehouse=Lakehouse(catalog="catalog.ducklake")))
        assert connection.execute(attached).fetchone() == (0,)
        assert lake.snapshot() == 0
        assert connection.execute(attached).fetchone() == (1,)


def test_every_table_replaced_by_site_and_night_says_its_night_and_its_bay() -> None:
    for table in (*BY_NIGHT, *OF_EXPORTS):
        assert {"night", "bay_id"} <= set(table.column_names), table.name


def test_a_table_of_raw_gains_a_column_and_any_other_change_has_every_night_read_again(tmp_path: Path) -> None:
    home, settings = Home(tmp_path), Settings(lakehouse=Lakehouse(catalog="catalog.ducklake"))
    with duckdb.connect() as connection:
        lake = Lake.open(connection, home, settings)
        tables.make(lake)
        connection.execute("insert into lake.raw.export_file (night, path) values ('2026-01-05', 'a')")
        connection.execute("alter table lake.raw.shot drop column carry")
        connection.execute("insert into lake.raw.shot (night, line) values ('2026-01-05', 7)")
        tables.make(lake)
        assert lake.read("select line, carry from lake.raw.shot") == [(7, None)]
        assert lake.read("select count(*) from lake.raw.export_file") == [(1,)]
        connection.execute("alter table lake.core.shot drop column usable")
        tables.make(lake)
        assert lake.read("select count(*) from lake.raw.export_file") == [(0,)]
        assert tables.differing(lake) == []
