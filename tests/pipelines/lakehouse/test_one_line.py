"""One section of academy.toml, and the same nights are on a lakehouse: a catalog in a file, for trying."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import duckdb
import pytest

from demo_data.generate import SAMPLE_FOLDER, deliver_late
from pipelines.care import doctor_databases
from pipelines.runs import one_machine
from pipelines.runs.lakehouse import one_site
from tests.pipelines.killed_night import PUBLISHED
from tests.pipelines.lakehouse.conftest import on_lakehouse, without_names
from tests.pipelines.nights.conftest import differing, events_in_memory, rows
from warehouse.erasure.erase import forget, held_on
from warehouse.erasure.landing import mentions
from warehouse.home import Home
from warehouse.lakehouse.attachment import NAME, Lake
from warehouse.lakehouse.publication import PUBLICATION
from warehouse.settings.lakehouse import Lakehouse
from warehouse.settings.settings import Settings, load

STUDENT = "0133"


def both_zeros(found: dict[str, list[tuple]]) -> dict[str, list[tuple]]:
    """Return rows with zero written without a sign: files of a lakehouse need not keep it."""
    return {
        name: sorted((tuple(0.0 if value == 0 and isinstance(value, float) else value for value in row)
                      for row in table), key=repr)
        for name, table in found.items()
    }  # fmt: skip


def published(home: Home) -> dict[str, list[tuple]]:
    """Return core and mart as published."""
    return both_zeros(rows(home.current))


@pytest.fixture(scope="module")
def homes(tmp_path_factory: pytest.TempPathFactory) -> tuple[Home, Home]:
    """The sample in one file and on a lakehouse, first as it landed, then with what came late."""
    folder = tmp_path_factory.mktemp("one-line")
    one, lake = Home(folder / "one"), Home(folder / "lake")
    for home in (one, lake):
        shutil.copytree(SAMPLE_FOLDER / "landing", home.landing)
        shutil.copytree(SAMPLE_FOLDER / "landing_late", home.path / "landing_late")
    on_lakehouse(lake.path, "catalog.ducklake")
    with events_in_memory():
        for home in (one, lake):
            for _ in range(2):
                done = one_machine.run(home)
                assert done.outcome in PUBLISHED, done.message
                deliver_late(home.landing)
    return one, lake


def test_core_and_mart_are_those_of_one_file_row_for_row(homes: tuple[Home, Home]) -> None:
    one, lake = homes
    assert differing(published(one), published(lake)) == {}


def test_what_became_of_every_file_is_told_alike(homes: tuple[Home, Home]) -> None:
    told = []
    for home in homes:
        with duckdb.connect(home.current.resolve(), read_only=True) as opened:
            told.append(opened.execute("select * exclude (read_at) from ops.export_file order by all").fetchall())
            told[-1] += opened.execute("from ops.rejected_row order by all").fetchall()
            told[-1] += opened.execute("select night, shots from ops.night order by all").fetchall()
    assert told[0] == told[1]


def test_a_publication_says_from_which_snapshot_its_nights_are_and_what_it_made_is_on_the_lakehouse(
    homes: tuple[Home, Home],
) -> None:
    home, whole = homes[1], published(homes[1])
    with duckdb.connect() as connection:
        connection.execute("set timezone = 'UTC'")
        lake = Lake.open(connection, home, load(home.path))
        ((snapshot, said),) = lake.read(
            f"select snapshot_id, commit_extra_info from {NAME}.snapshots() where author = '{PUBLICATION}' "
            "order by snapshot_id desc limit 1"
        )
        nights = json.loads(said)["nights_from_snapshot"]
        assert json.loads(said)["file"] == home.current.resolve().name
        assert nights < snapshot
        for name, table in whole.items():
            columns = lake.read(f"select * from {NAME}.{name} at (version => {snapshot})")
            assert both_zeros({name: columns}) == both_zeros(without_names({name: table}))
        ((before,),) = lake.read(f"select count(*) from {NAME}.core.shot at (version => {nights})")
    assert before == len(whole["core.shot"])


def test_a_rebuild_takes_all_from_landing_and_ends_the_same(homes: tuple[Home, Home], tmp_path: Path) -> None:
    home = Home(tmp_path / "moved")
    shutil.copytree(homes[1].path, home.path, symlinks=True)
    with events_in_memory():
        done = one_machine.run(home, rebuild=True)
    assert done.outcome in PUBLISHED, done.message
    assert differing(published(homes[1]), published(home)) == {}


def test_one_site_is_brought_in_without_publishing(homes: tuple[Home, Home]) -> None:
    home = homes[1]
    before = home.current.resolve()
    done = one_site(home, "low")
    assert done.outcome == one_machine.Outcome.PUBLISHED
    assert done.message == "site low: 0 nights built, 0 rows loaded, committed"
    assert home.current.resolve() == before
    assert one_site(home, "high").outcome == one_machine.Outcome.NOT_PUBLISHED
    assert "lakehouse" in one_site(homes[0], "low").message


def test_doctor_reaches_the_lakehouse_and_says_what_to_do_where_it_does_not(homes: tuple[Home, Home]) -> None:
    home = homes[1]
    (found,) = [said for said in doctor_databases.examine(home, load(home.path)) if said[0] == "lakehouse"]
    assert found[1] == "OK" and found[2].startswith("reached, snapshot ")
    elsewhere = Settings(lakehouse=Lakehouse(catalog="nowhere.ducklake"))
    (found,) = [said for said in doctor_databases.examine(home, elsewhere) if said[0] == "lakehouse"]
    assert found[1] == "FAULT" and "run a first night" in found[3]
    assert not (home.path / "nowhere.ducklake").exists()


def test_a_student_who_is_forgotten_is_in_no_file_and_no_snapshot(homes: tuple[Home, Home], tmp_path: Path) -> None:
    home = Home(tmp_path / "home")
    shutil.copytree(homes[1].path, home.path, symlinks=True)
    data = home.path / "lake"
    assert mentions(data, STUDENT)
    told = held_on(home, STUDENT, settings=load(home.path))
    assert told['lakehouse: "raw"."shot"'].height > 0
    assert set(told['lakehouse: "raw"."shot"']["student_id"]) == {STUDENT}
    said = forget(home, STUDENT, rewrite_landing=True, settings=load(home.path))
    assert [line for line in said if line.startswith("lakehouse")]
    assert mentions(data, STUDENT) == []
    assert mentions(home.path, STUDENT) == []
    assert held_on(home, STUDENT, settings=load(home.path)) == {}
    with duckdb.connect() as connection:
        lake = Lake.open(connection, home, load(home.path))
        assert lake.read(f"select count(*) from {NAME}.raw.shot where student_id = '{STUDENT}'") == [(0,)]
        assert len(lake.read(f"select * from {NAME}.snapshots()")) == 1
        assert lake.read(f"select count(*) from {NAME}.core.shot")[0][0] > 1000


@pytest.mark.parametrize("extreme", ["min", "max"])
def test_the_first_or_last_of_all_ids_is_forgotten_by_the_catalog_s_statistics_too(
    extreme: str, homes: tuple[Home, Home], tmp_path: Path
) -> None:
    home = Home(tmp_path / "home")
    shutil.copytree(homes[1].path, home.path, symlinks=True)
    held = f"select student_id, count(*) from {NAME}.core.shot where student_id is not null group by all order by all"
    with duckdb.connect() as connection:
        lake = Lake.open(connection, home, load(home.path))
        ((who,),) = lake.read(f"select {extreme}(student_id) from {NAME}.core.shot")
        ((name,),) = lake.read(f"select name from {NAME}.raw.student where student_id = '{who}'")
        before = lake.read(held)
    catalog = home.path / "catalog.ducklake"
    assert who.encode() in catalog.read_bytes()
    forget(home, who, rewrite_landing=True, settings=load(home.path))
    with duckdb.connect(str(catalog), read_only=True) as opened:
        texts = [str(row) for (table,) in opened.execute("select table_name from duckdb_tables()").fetchall()
                 for row in opened.execute(f"from {table}").fetchall() if "path" not in table]  # fmt: skip
    word = re.compile(rf"(?<![0-9A-Za-z])({who}|{re.escape(name)})(?![0-9A-Za-z])")
    assert [row for row in texts if word.search(row)] == []
    # In the landing folder other numbers look like the id.
    assert [path for path in mentions(home.path, who, name) if home.landing not in path.parents] == []
    with duckdb.connect() as connection:
        lake = Lake.open(connection, home, load(home.path))
        assert lake.read(held) == [row for row in before if row[0] != who]
        (other, count) = next(row for row in before if row[0] != who)
        assert lake.read(f"select count(*) from {NAME}.core.shot where student_id = '{other}'") == [(count,)]
    with events_in_memory():
        done = one_machine.run(home)
    assert done.outcome in PUBLISHED, done.message
