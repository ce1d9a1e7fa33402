"""A person taken out: not a byte of them in what the academy keeps, everybody else untouched."""

from __future__ import annotations

import gzip
from datetime import date, datetime
from pathlib import Path

import duckdb
import polars as pl
import pytest

from warehouse.erasure.erase import StillOpen, forget, held_on
from warehouse.home import Home
from warehouse.notebook import actions
from warehouse.notebook.store import correct, open_store
from warehouse.schema.registry import TABLES

WHO, NAME = "ST0077", "Quillon Varndike"
OTHERS = ("ST0076", "ST00770", "T0077")
NIGHT = datetime(2024, 5, 6, 10)


def fill_raw(path: Path) -> None:
    with duckdb.connect(str(path)) as con:
        con.execute("create schema if not exists raw")
        con.execute("create table student (student_id varchar, name varchar)")
        con.execute("create table lesson (lesson_id varchar, student_id varchar)")
        con.execute("create table drill_log (lesson_id varchar, drill_id varchar)")
        con.execute("create table shot (path varchar, line bigint, student_id varchar, carry double)")
        con.execute("create table event (scope varchar, id varchar, note varchar)")
        con.execute("create table rejected_row (path varchar, line bigint, value varchar, detail varchar)")
        for number, student in enumerate((WHO, *OTHERS)):
            con.execute("insert into student values (?, ?)", [student, NAME if student == WHO else f"Name {number}"])
            con.execute("insert into lesson values (?, ?)", [f"LN{number:04}", student])
            con.execute("insert into drill_log values (?, 'D1')", [f"LN{number:04}"])
            con.execute("insert into shot select '2024-05-06/B1.csv', x, ?, x from range(300) t(x)", [student])
            con.execute("insert into event values ('student', ?, null)", [student])
        con.execute("insert into event values ('bay', ?, 'a bay with the same id')", [WHO.lower()])
        con.execute("insert into rejected_row values ('x.csv', 3, ?, ?)", [WHO, f"{WHO} is unknown, ST00770 is not"])


def fill_warehouse(path: Path) -> None:
    with duckdb.connect(str(path)) as con:
        for schema in ("core", "mart", "ops"):
            con.execute(f"create schema {schema}")
        session = TABLES["core.session"]
        con.execute(session.ddl())
        for comment in session.comments():
            con.execute(comment)
        con.execute("create table core.episode_metric (episode_id varchar, metric varchar, next_session_id varchar)")
        con.execute("create table core.drill_episode (episode_id varchar, session_id varchar, student_id varchar)")
        con.execute("create table mart.student (student_id varchar, name varchar)")
        con.execute("create table ops.check_result (example varchar)")
        con.execute("create macro yd(distance) as distance / 0.9144")
        con.execute("create view mart.names as select name from mart.student")
        for number, student in enumerate((WHO, *OTHERS)):
            key = f"{student}-B1-{number}"
            con.execute("insert into core.session by name select 'practice' as kind, ? as session_id, ? as student_id",
                        [key, student])  # fmt: skip
            con.execute("insert into core.drill_episode values (?, ?, ?)", [key + "-free", key, student])
            con.execute("insert into core.episode_metric values (?, 'carry', ?)", [key + "-free", key])
            con.execute("insert into mart.student values (?, ?)", [student, NAME if student == WHO else None])
        con.execute("insert into ops.check_result values (?)", [f"lesson of {WHO}"])


def fill_landing(landing: Path) -> None:
    (landing / "academy").mkdir(parents=True)
    (landing / "profiles").mkdir()
    (landing / "shots" / "2024-05-06").mkdir(parents=True)
    (landing / "academy" / "students.csv").write_text(f"student_id,name\n{WHO},{NAME}\nST00770,Other\n")
    (landing / "academy" / "lessons.csv").write_text(f"lesson_id,student_id\nLN0000,{WHO}\nLN0002,ST00770\n")
    (landing / "academy" / "drill_log.csv").write_text("lesson_id,drill_id\nLN0000,D1\nLN0002,D1\n")
    (landing / "academy" / "events.csv").write_text(f"scope,id\nstudent,{WHO}\nbay,B1\n")
    bays = "bay_id,export_profile\nB1,semicolon\nB2,lines\nB3,columns\nB4,none\n"
    (landing / "academy" / "bays.csv").write_text(bays)
    (landing / "profiles" / "semicolon.toml").write_text(
        '[file]\ndelimiter=";"\nencoding="latin-1"\nskip_rows=1\n[columns]\nstudent_id = {from = "Gast"}\n'
    )
    for name in ("lines", "columns"):
        (landing / "profiles" / f"{name}.toml").write_text('[columns]\nstudent_id = {from = "guest"}\n')
    night = landing / "shots" / "2024-05-06"
    text = f"Gerät 7\nSchläger;Gast;carry\nDriver;{WHO};180\nDriver;ST00770;{WHO.lower()}\n\nDriver;;170\n"
    (night / "B1.csv.gz").write_bytes(gzip.compress(text.encode("latin-1")))
    (night / "B2.jsonl").write_text(f'{{"guest": "{WHO}", "carry": 1}}\n{{"guest": "ST00770", "carry": 2}}\n')
    pl.DataFrame({"guest": [WHO, "ST00770", None], "carry": [1.0, 2.0, 3.0]}).write_parquet(night / "B3.parquet")
    (night / "B4.csv").write_text(f"a,b\n1,{WHO}\n")


def fill_notebook(home: Home) -> None:
    store = open_store(home.notebook_url(""))
    for student, lesson in ((WHO, "LN0000"), ("ST00770", "LN0002")):
        first = actions.begin_drill(store, drill_id="D1", lesson_id=lesson, starts_at=NIGHT, by="coach")
        correct(store, "drill_entry", first, "coach", drill_id="D2")
        actions.set_goal(store, student_id=student, words=f"{student} up", metric="carry", club_group="driver",
                         target=200, by="coach")  # fmt: skip
        actions.hold(store, student_id=student, drill_id="D1", until=date(2024, 6, 1), by="coach")
        actions.record_use(store, who="analyst", what="sql", detail=f"select * from s where student_id = '{student}'")
    store.close()


@pytest.fixture
def home(tmp_path: Path) -> Home:
    home = Home(tmp_path / "home")
    home.private.mkdir(parents=True)
    home.published.mkdir()
    fill_raw(home.private / "raw.duckdb")
    fill_warehouse(home.private / "warehouse.duckdb")
    for version in ("2024-05-05_a", "2024-05-06_b"):
        (home.published / f"{version}.duckdb").write_bytes((home.private / "warehouse.duckdb").read_bytes())
    home.current.symlink_to("2024-05-06_b.duckdb")
    fill_notebook(home)
    fill_landing(home.landing)
    return home


def holders(home: Home, *words: str) -> set[str]:
    """Files whose very bytes hold one of the words with no letter or digit after it."""
    found = set()
    for path in home.path.rglob("*"):
        if path.is_file() and not path.is_symlink():
            data = path.read_bytes()
            data = gzip.decompress(data) if path.suffix == ".gz" else data
            for word in words:
                rest = data.split(word.encode())[1:]
                if any(not part[:1].isalnum() for part in rest):
                    found.add(str(path.relative_to(home.path)))
    return found


DATABASES = {"warehouse/raw.duckdb", "warehouse/warehouse.duckdb", "published/2024-05-05_a.duckdb",
             "published/2024-05-06_b.duckdb"}  # fmt: skip


def test_no_byte_of_the_person_is_left_in_databases_versions_notebook_and_landing(home: Home) -> None:
    assert DATABASES | {"notebook.sqlite"} <= holders(home, WHO, NAME)  # the search does find them before
    said = forget(home, WHO, rewrite_landing=True)
    assert holders(home, WHO, NAME) == {"landing/shots/2024-05-06/B4.csv"}
    assert [line for line in said if "B4.csv" in line] == [
        "landing/shots/2024-05-06/B4.csv: still holds the id, and no profile says in which column: edit it by hand"
    ]
    assert not any(NAME in line for line in said)
    assert not [path for path in home.path.rglob(".*") if path.is_file()]


def test_everybody_else_is_untouched(home: Home) -> None:
    forget(home, WHO, rewrite_landing=True)
    with duckdb.connect(str(home.private / "raw.duckdb"), read_only=True) as con:
        for table, rows in (("student", 3), ("lesson", 3), ("drill_log", 3), ("shot", 900), ("event", 4)):
            assert con.execute(f"select count(*) from {table}").fetchone() == (rows,)
        assert con.execute("select value, detail from rejected_row").fetchall() == [
            ("(removed)", "(removed) is unknown, ST00770 is not")
        ]
    with duckdb.connect(str(home.current.resolve()), read_only=True) as con:
        for table in ("core.session", "core.drill_episode", "core.episode_metric", "mart.student", "mart.names"):
            assert con.execute(f"select count(*) from {table}").fetchone() == (3,), table
        assert con.execute("select yd(0.9144)").fetchone() == (1.0,)
    night = home.landing / "shots" / "2024-05-06"
    kept = "Gerät 7\nSchläger;Gast;carry\nDriver;ST00770;st0077\n\nDriver;;170\n"
    assert gzip.decompress((night / "B1.csv.gz").read_bytes()).decode("latin-1") == kept
    assert (night / "B2.jsonl").read_text() == '{"guest": "ST00770", "carry": 2}\n'
    assert pl.read_parquet(night / "B3.parquet")["guest"].to_list() == ["ST00770", None]
    assert (home.landing / "academy" / "drill_log.csv").read_text() == "lesson_id,drill_id\nLN0002,D1\n"
    assert (home.landing / "academy" / "events.csv").read_text() == "scope,id\nbay,B1\n"


def test_descriptions_and_the_link_survive(home: Home) -> None:
    forget(home, WHO)
    assert home.current.is_symlink()
    with duckdb.connect(str(home.current.resolve()), read_only=True) as con:
        comment = con.execute(
            "select comment from duckdb_columns() where table_name = 'session' and column_name = 'kind'"
        ).fetchone()
        table = con.execute("select comment from duckdb_tables() where table_name = 'session'").fetchone()
    assert comment == ("lesson (a row of the lesson book) or practice.",) and table and table[0].startswith("One row:")


def test_the_notebook_loses_the_persons_entries_with_their_corrections_and_keeps_its_guard(home: Home) -> None:
    said = forget(home, WHO)
    assert "notebook: 5 entries taken out" in said  # a drill and its correction, a goal, a hold, a query
    store = open_store(home.notebook_url(""))
    with pytest.raises(Exception, match="never changed"), store.engine.begin() as connection:
        connection.exec_driver_sql("delete from goal")
    assert sum(frame.height for frame in held_on(home, "ST00770").values()) > 5


def test_without_rewriting_each_landing_file_that_holds_the_person_is_named(home: Home) -> None:
    before = {path: path.read_bytes() for path in home.landing.rglob("*") if path.is_file()}
    named = {line.split(" still holds")[0] for line in forget(home, WHO) if " still holds" in line}
    tables = {f"landing/academy/{name}.csv" for name in ("students", "lessons", "drill_log", "events")}
    exports = {f"landing/shots/2024-05-06/{name}" for name in ("B1.csv.gz", "B2.jsonl", "B3.parquet", "B4.csv")}
    assert named == tables | exports
    assert all(path.read_bytes() == data for path, data in before.items())


def test_all_that_is_held_on_a_person_is_given_out_and_nobody_elses(home: Home) -> None:
    held = held_on(home, WHO)
    assert held['raw.duckdb: "main"."student"']["name"].to_list() == [NAME]
    assert held['raw.duckdb: "main"."shot"'].height == 300
    assert held['raw.duckdb: "main"."drill_log"']["lesson_id"].to_list() == ["LN0000"]
    assert held['2024-05-06_b.duckdb: "core"."episode_metric"'].height == 1
    assert held["notebook: drill_entry"].height == 2 and held["notebook: goal"]["words"].to_list() == [f"{WHO} up"]
    for frame in held.values():
        assert not set(frame.get_column("student_id", default=pl.Series([], dtype=pl.String)).to_list()) - {WHO, None}
    forget(home, WHO)
    assert held_on(home, WHO) == {}


def test_a_reader_with_the_published_file_open_is_not_disturbed(home: Home) -> None:
    with duckdb.connect(str(home.current.resolve()), read_only=True) as reader:
        forget(home, WHO)
        assert reader.execute("select count(*) from mart.student").fetchone() == (4,)


def test_a_log_that_still_mentions_the_person_is_named(home: Home) -> None:
    (home.private / "night.log").write_text(f"rejected a row of {WHO}\n")
    assert any(line.startswith("warehouse/night.log still mentions the id") for line in forget(home, WHO))


def test_a_private_database_in_use_is_named_and_not_changed(home: Home) -> None:
    program = f"import duckdb, time; c = duckdb.connect({str(home.private / 'raw.duckdb')!r}); "
    program += "c.execute('set checkpoint_threshold = \\'1TB\\''); c.execute('create table x as select 1'); "
    program += "print('open', flush=True); time.sleep(600)"
    import subprocess
    import sys

    holder = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    try:
        assert holder.stdout is not None and holder.stdout.readline() == "open\n"
        with pytest.raises(StillOpen, match=r"raw\.duckdb is in use"):
            forget(home, WHO)
    finally:
        holder.kill()
        holder.wait()
