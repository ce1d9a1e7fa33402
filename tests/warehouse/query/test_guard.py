"""What one reader's query may do, and some eighty ways out of it that must not work."""

from __future__ import annotations

import hashlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path

import duckdb
import polars as pl
import pytest

from tests.warehouse.escapes import REACHES, RUNAWAYS, SECOND_WALL, SECRET
from warehouse.query import worker
from warehouse.query.guard import START_UP, QueryPlan, QueryRefused, QueryResult, explain, run

CLOCK = 0.5
MEMORY_MB = 300


@pytest.fixture(scope="module")
def published(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small published file behind its link, and beside it what must not be reached."""
    folder = tmp_path_factory.mktemp("published")
    with duckdb.connect(str(folder / "2024-05-06.duckdb")) as connection:
        connection.execute("create schema mart")
        connection.execute("create table mart.thing as select x::int as id, 'name ' || x as name from range(5000) t(x)")
        connection.execute("create macro first_things(n) as table select * from mart.thing where id < n")
    (folder / "current.duckdb").symlink_to("2024-05-06.duckdb")
    (folder / "secret.txt").write_text(SECRET)
    return folder / "current.duckdb"


def state(folder: Path) -> dict[str, str]:
    """Every file of a folder with the hash of its bytes."""
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir() if path.is_file()}


def attempt(published: Path, sql: str, seconds: float = CLOCK) -> tuple[str | QueryResult, float]:
    """What came of a query, and after how many seconds."""
    began = time.monotonic()
    try:
        result: str | QueryResult = run(published, sql, seconds=seconds, memory_mb=MEMORY_MB, max_bytes=5_000_000)
    except QueryRefused as refusal:
        result = str(refusal)
    return result, time.monotonic() - began


# One of each kind goes the whole way, a process of its own each; the rest share one confined process.
WHOLE_WAY = (
    "read a text file", "copy a table out", "attach a new file", "load an extension", "set external access",
    "list secrets", "fetch a page as a table", "two statements", "brackets without end", "too long a text",
    "a zero byte", "half a character",
)  # fmt: skip


@pytest.fixture(scope="module")
def outcomes(published: Path) -> dict[str, tuple[str | QueryResult, float]]:
    """Attempts, four at a time from one process with threads, as a dashboard's readers would."""
    queries = {name: query for name, query in filled(published).items() if name in WHOLE_WAY or name in RUNAWAYS}
    with ThreadPoolExecutor(4) as pool:
        results = pool.map(lambda sql: attempt(published, sql), queries.values())
        return dict(zip(queries, results, strict=True))


@pytest.fixture(scope="module")
def reports(published: Path) -> dict[str, dict[str, object]]:
    """What one confined process reported on each of the other attempts, one after the other."""
    limits = {"mode": "rows", "max_rows": 100, "max_bytes": 1_000_000, "seconds": 5, "memory_mb": 500}
    requests = {
        name: limits | {"database": str(published.resolve()), "sql": sql}
        for name, sql in filled(published).items()
        if name in REACHES and name not in WHOLE_WAY
    }
    program = "import json\nprint(json.dumps({name: worker.respond(request)[0] for name, request in "
    ended = confined(program + "json.loads(sys.stdin.read()).items()}))", 60, 1000, json.dumps(requests))
    assert ended.returncode == 0, ended.stderr
    return json.loads(ended.stdout)


def filled(published: Path) -> dict[str, str]:
    """All attempts, their places filled in."""
    places = {"secret": str(published.parent / "secret.txt"), "folder": str(published.parent)}
    return {name: sql.format(**places) if "{" in sql else sql for name, sql in (REACHES | RUNAWAYS).items()}


@pytest.mark.parametrize("way", [*WHOLE_WAY, *RUNAWAYS])
def test_a_way_out_is_refused_or_ended_with_one_sentence(
    way: str, outcomes: dict[str, tuple[str | QueryResult, float]]
) -> None:
    said, seconds = outcomes[way]
    assert isinstance(said, str), f"{way}: it answered {said}"
    assert said.endswith(".") and "\n" not in said and SECRET not in said
    assert seconds < CLOCK + 15  # its place in the queue of four included
    if way in RUNAWAYS:
        assert "ran longer than 0.5 s" in said or "needed more than 300 MB" in said


@pytest.mark.parametrize("way", [way for way in REACHES if way not in WHOLE_WAY])
def test_a_reach_past_the_published_tables_is_refused_with_one_sentence(
    way: str, reports: dict[str, dict[str, object]]
) -> None:
    said = reports[way].get("refused")
    assert isinstance(said, str), f"{way}: it answered {reports[way]}"
    assert said.endswith(".") and "\n" not in said and SECRET not in said


def test_all_attempts_leave_the_folder_as_it_was_and_the_next_query_fine(published: Path) -> None:
    before = state(published.parent)
    for sql in (REACHES["copy a table out"], REACHES["drop"], RUNAWAYS["one huge text"], REACHES["attach a new file"]):
        said, _ = attempt(published, sql.format(folder=published.parent))
        assert isinstance(said, str)
        assert run(published, "select count(*) as n from mart.thing").frame.to_dicts() == [{"n": 5000}]
    assert state(published.parent) == before
    assert set(before) == {"2024-05-06.duckdb", "current.duckdb", "secret.txt"}


def test_a_runaway_is_ended_within_a_second_or_so_of_its_clock(published: Path) -> None:
    said, seconds = attempt(published, RUNAWAYS["a huge join"], seconds=0.5)
    assert said == "The query ran longer than 0.5 s; narrow it with where, group by or limit."
    assert seconds < 0.5 + START_UP  # so its own clock ended it, and nobody who waited for it


def test_one_huge_value_is_stopped_by_memory_and_the_sentence_says_so(published: Path) -> None:
    said, _ = attempt(published, "select repeat('x', 1500000000)", seconds=10)
    assert said == "The query needed more than 300 MB; narrow it with where, group by or limit."


@pytest.mark.parametrize("sql", SECOND_WALL)
def test_the_database_itself_refuses_where_the_first_wall_is_taken_away(published: Path, sql: str) -> None:
    variable_of_the_program = pl.DataFrame({"a": [1]})
    connection = worker.connect(str(published.resolve()), 300)
    with pytest.raises(duckdb.Error):
        connection.execute(sql.format(secret=published.parent / "secret.txt", folder=published.parent)).fetchall()
    connection.close()
    assert variable_of_the_program.height == 1


def confined(
    program: str, seconds: float = 5, memory_mb: int = 200, given: str = ""
) -> subprocess.CompletedProcess[str]:
    """Run a few lines of Python behind the third wall alone."""
    lines = f"import sys; sys.path.insert(0, {str(worker.__file__).rsplit('/', 1)[0]!r})\n"
    lines += f"import worker; worker.confine({seconds}, {memory_mb})\n{program}"
    command = [sys.executable, "-I", "-B", "-c", lines]
    return subprocess.run(command, input=given, capture_output=True, text=True, check=False)


@pytest.mark.parametrize(
    ("program", "said"),
    [
        ("open(sys.stdin.read(), 'wb', 0).write(b'x' * 9)", "OSError"),
        ("bytearray(400_000_000)", "MemoryError"),
        ("[open('/dev/null') for _ in range(100)]", "Too many open files"),
    ],
)
def test_the_operating_system_refuses_where_both_walls_are_taken_away(program: str, said: str, tmp_path: Path) -> None:
    ended = confined(program, given=str(tmp_path / "of-a-confined-process"))
    assert ended.returncode != 0 and said in ended.stderr


def test_a_process_that_no_longer_listens_is_ended_by_its_own_clock() -> None:
    ended = confined("while True: pass", seconds=0.2)
    assert ended.returncode == -signal.SIGALRM


def test_the_child_sees_no_environment_of_its_caller(monkeypatch: pytest.MonkeyPatch, published: Path) -> None:
    monkeypatch.setenv("ACADEMY_SECRET", SECRET)
    monkeypatch.setenv("PYTHONPATH", "/nowhere")
    monkeypatch.setenv("HTTP_PROXY", "http://127.0.0.1:9")
    seen: dict[str, str] = {}
    true_popen = subprocess.Popen

    def watched(*arguments: object, **options: object) -> object:
        seen.update(options["env"])  # type: ignore[call-overload]
        seen["cwd"] = str(options["cwd"])
        return true_popen(*arguments, **options)  # type: ignore[call-overload]

    monkeypatch.setattr(subprocess, "Popen", watched)
    assert run(published, "select 1 as one").frame["one"].to_list() == [1]
    assert not set(seen) - {"cwd", "MALLOC_ARENA_MAX", "OPENBLAS_NUM_THREADS", "ARROW_DEFAULT_MEMORY_POOL"}
    assert not Path(seen["cwd"]).exists() and Path(seen["cwd"]) != Path.cwd()


def test_values_of_every_common_type_come_back(published: Path) -> None:
    result = run(
        published,
        """
        select timestamp '2024-05-06 07:08:09.123456' as at, date '2024-05-06' as day, [1, 2, null] as list,
            {'a': 1, 'b': ['x']} as struct, 170141183460469231731687303715884105727::hugeint as huge,
            (select sum(id) from mart.thing) as total, 12.50::decimal(10, 2) as money, map {'k': 1} as map,
            interval 90 minute as span, uuid '00000000-0000-0000-0000-000000000001' as id, null as nothing,
            true as yes, 'a'::blob as bytes, time '10:00' as clock, 'x' as "two words", 1 as "yes"
    """,
    )
    row = result.frame.to_dicts()[0]
    assert row["at"] == datetime(2024, 5, 6, 7, 8, 9, 123456) and row["day"] == date(2024, 5, 6)
    assert row["list"] == [1, 2, None] and row["struct"] == {"a": 1, "b": ["x"]}
    assert row["huge"] == 2**127 - 1 and row["total"] == 12_497_500 and result.frame["total"].dtype == pl.Int64
    assert row["money"] == Decimal("12.50") and row["span"] == "01:30:00" and row["bytes"] == b"a"
    assert row["nothing"] is None and row["two words"] == "x" and row["yes"] is True and row["yes_2"] == 1
    assert result.columns["at"] == "TIMESTAMP" and result.columns["total"] == "HUGEINT" and not result.truncated


def test_the_types_that_the_database_shows_off_come_back(published: Path) -> None:
    assert run(published, "select * from test_all_types()").frame.height == 3


def test_a_result_stops_at_its_rows_and_says_so(published: Path) -> None:
    result = run(published, "select id from mart.thing order by id desc", max_rows=3)
    assert result.frame["id"].to_list() == [4999, 4998, 4997]
    assert result.truncated and result.limit == "rows"
    assert not run(published, "select id from mart.thing limit 3", max_rows=3).truncated
    assert run(published, "select id from range(1000000000) t(id)", max_rows=3000).frame.height == 3000


def test_a_result_stops_at_its_bytes_and_says_so(published: Path) -> None:
    result = run(published, "select repeat('x', 1000) as x from range(5000)", max_bytes=100_000)
    assert result.limit == "bytes" and 90 <= result.frame.height <= 100
    with pytest.raises(QueryRefused, match=r"One row is larger than 100,000 bytes; select less of it\."):
        run(published, "select repeat('x', 200000)", max_bytes=100_000)


def test_what_a_reader_writes_every_day_is_let_through(published: Path) -> None:
    for sql in (
        "select * from mart.thing;", "from mart.thing select count(*) -- all of them", "describe mart.thing",
        "show all tables", "summarize mart.thing", "select * from first_things(3)", "values (1), (2)",
        "with recursive a as (select 1 x union all select x + 1 from a where x < 9) select sum(x) from a; -- end",
        "pivot mart.thing on id in (1, 2) using count(*)", "select ';' as \"a;b\", '--' as c /* ; */ ;",
        "select 1 /* /* a comment in a comment */ ; copy mart.thing to 'nowhere' -- */",
        "select column_name, comment from duckdb_columns() where schema_name = 'mart'",
        "select x, sum(x) over (order by x) as s from range(5) t(x) qualify s > 1 order by x desc",
        "select list(name order by id), sum(id) filter (id > 3) from mart.thing group by id % 2 order by all",
        "select unnest([1, 2]), (select max(id) from mart.thing) union all select 3, 4 order by 1 limit 2 offset 1",
    ):  # fmt: skip
        assert run(published, sql).frame.height > 0, sql


def test_sums_keep_the_order_asked_for(published: Path) -> None:
    result = run(published, "select id % 3 as rest, sum(id) as total from mart.thing group by 1 order by total desc")
    assert result.frame["rest"].to_list() == [1, 0, 2] or result.frame["total"].is_sorted(descending=True)


def test_the_link_is_followed_to_the_version_it_names_now(published: Path, tmp_path: Path) -> None:
    for name, value in (("a", 1), ("b", 2)):
        with duckdb.connect(str(tmp_path / f"{name}.duckdb")) as connection:
            connection.execute(f"create table version as select {value} as number")
    link = tmp_path / "current.duckdb"
    link.symlink_to("a.duckdb")
    assert run(link, "from version").frame["number"].item() == 1
    (tmp_path / "next").symlink_to("b.duckdb")
    os.replace(tmp_path / "next", link)
    assert run(link, "from version").frame["number"].item() == 2


def test_where_nothing_is_published_a_sentence_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(QueryRefused, match="run academy nightly first"):
        run(tmp_path / "current.duckdb", "select 1")
    (tmp_path / "current.duckdb").write_bytes(b"not a database" * 1000)
    with pytest.raises(QueryRefused, match="could not be opened"):
        run(tmp_path / "current.duckdb", "select 1")


def test_a_mistake_is_answered_with_its_name_and_not_with_a_path(published: Path) -> None:
    with pytest.raises(QueryRefused, match=r"nmae.*listed in mart\.dictionary") as refusal:
        run(published, "select nmae from mart.thing")
    assert str(published.parent) not in str(refusal.value)


def test_a_plan_is_given_with_its_time_or_without_running(published: Path) -> None:
    ran = explain(published, "select name, count(*) from mart.thing group by name; -- every name")
    assert isinstance(ran, QueryPlan) and "HASH_GROUP_BY" in ran.plan and ran.seconds is not None and ran.seconds > 0
    planned = explain(published, "select count(*) from range(100000000000) t(x) where x % 7 = 3", analyse=False)
    assert "FILTER" in planned.plan and planned.seconds is None
    for sql in ("drop table mart.thing", "select 1; select 2", "select * from read_text('/etc/passwd')"):
        with pytest.raises(QueryRefused):
            explain(published, sql)
    with pytest.raises(QueryRefused, match="longer than"):
        explain(published, RUNAWAYS["a huge join"], seconds=0.3)


def test_readers_at_once_all_get_their_own_answer(published: Path) -> None:
    answers: dict[int, int] = {}
    threads = [
        threading.Thread(target=lambda n=n: answers.update({n: run(published, f"select {n} as n").frame["n"].item()}))
        for n in range(8)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert answers == {n: n for n in range(8)}
