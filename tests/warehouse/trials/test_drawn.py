"""Lots as the night reads them, and which drills of the log were done by them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import duckdb
import pytest

from warehouse.build import run
from warehouse.build.model import models
from warehouse.domain.trials.randomisation import FREE_PRACTICE
from warehouse.landing import notebook_entries
from warehouse.notebook.reading import read_entries, read_history
from warehouse.notebook.store import Store, history
from warehouse.schema import entered, raw
from warehouse.schema.registry import TABLES
from warehouse.settings.settings import Settings
from warehouse.trials import book
from warehouse.trials.drawn import SCHEMA, drawn_lots
from warehouse.trials.plan import Plan

DAY = date(2026, 3, 2)
PLAN = Plan(
    trial_id="T1", title="Both, in turn", kind="crossover", horizon="transfer", treatments=("D1", "D2"),
    metric="club_path", measure="centre", club_group="driver", better=1, matters_from=1.0, students=10, episodes=2,
    weeks=4, gap_middle=0.0,
)  # fmt: skip
LESSONS = """
insert into raw.site values ('S', 'Somewhere', 'America/Halifax', 0, 2);
insert into raw.bay values ('B1', 'S', 'plain', 'indoor', 'premium', 2);
insert into raw.lesson
select 'l' || n, 'P', 'k1', 'B1', moment, moment + interval 1 hour, n
from (select n, timestamp '2026-03-01 10:00:00' + to_days(n::integer) as moment from range(5) as days (n));
"""


@pytest.fixture
def warehouse() -> Iterator[duckdb.DuckDBPyConnection]:
    """A lesson a day at 10:00 in Halifax, 1 to 5 March, which is 14:00 UTC."""
    with duckdb.connect() as connection:
        for schema in ("raw", "stage", "core"):
            connection.execute(f"create schema {schema}")
        for table in raw.TABLES:
            connection.execute(table.ddl())
        connection.execute(LESSONS)
        run.give(connection, Settings())
        yield connection


def entered_by(store: Store, home: Path, plan: Plan) -> str:
    """Begin a trial, draw one student's lot and return it."""
    book.begin(store, home, plan, begun_on=DAY, by="director")
    book.agree(store, trial_id="T1", student_id="P", agreed_by="student", agreed_on=DAY, by="coach")
    return book.enter_and_draw(
        store, home, trial_id="T1", student_id="P", site_id="S", starting_gap=1.0, minor=False, consent=True, on=DAY,
        by="coach",
    ).arm  # fmt: skip


def read(store: Store):
    url = str(store.engine.url)
    return drawn_lots(read_entries(url), read_history(url, "trial_agreement"))


def drawn(warehouse: duckdb.DuckDBPyConnection, drills: dict[str, str], **lot: object) -> list[str]:
    """Log a drill by lesson at 10:20, hold one lot of D1 and return the lessons whose drill was drawn."""
    given: dict = {"club_group": "driver", "uses": 1, "drawn_on": DAY, "drawn_at": datetime(2026, 6, 1)}
    given |= {"ends_on": None, "given_up_at": None} | lot
    for lesson, drill in drills.items():
        warehouse.execute(
            "insert into raw.drill_log select lesson_id, $2, starts_at + interval 20 minute, null, 'coach', 1 "
            "from raw.lesson where lesson_id = $1", [lesson, drill],
        )  # fmt: skip
    table = entered.DRAWN_LOT.name
    warehouse.execute(f"insert into {table} values ('P', 'D1', ?, ?, ?, ?, ?, ?)", list(given.values()))
    return [row[0] for row in warehouse.execute("select lesson_id from stage.drawn_drill order by all").fetchall()]


def test_a_home_without_a_notebook_has_no_lots(tmp_path: Path) -> None:
    with duckdb.connect() as connection:
        connection.execute("create schema raw")
        assert notebook_entries.load(connection, f"sqlite:///{tmp_path / 'none.sqlite'}")["raw.drawn_lot"] == 0


def test_a_crossover_gives_a_row_for_each_drill_of_its_order(store: Store, tmp_path: Path) -> None:
    entered_by(store, tmp_path, PLAN)
    lots = read(store)
    assert dict(lots.schema) == SCHEMA and lots["drill_id"].to_list() == ["D1", "D2"]
    assert lots.select("club_group", "uses", "drawn_on", "ends_on", "given_up_at").unique().rows() == [
        ("driver", 2, DAY, None, None)
    ]


def test_free_practice_is_no_drill_to_be_logged(store: Store, tmp_path: Path) -> None:
    arm = entered_by(store, tmp_path, replace(PLAN, kind="parallel", treatments=(FREE_PRACTICE, "D1")))
    assert read(store)["drill_id"].to_list() == ([] if arm == FREE_PRACTICE else ["D1"])


def test_a_lot_ends_with_its_trial_and_when_the_agreement_is_taken_back(store: Store, tmp_path: Path) -> None:
    entered_by(store, tmp_path, PLAN)
    book.take_back(store, trial_id="T1", student_id="P", by="student")
    book.end(store, tmp_path, trial_id="T1", on=date(2026, 3, 9), by="director")
    taken_back = history(store, "trial_agreement")["entered_at"][-1]
    assert read(store).select("ends_on", "given_up_at").unique().rows() == [(date(2026, 3, 9), taken_back)]


def test_an_agreement_given_again_makes_the_lot_stand_again(store: Store, tmp_path: Path) -> None:
    entered_by(store, tmp_path, PLAN)
    book.take_back(store, trial_id="T1", student_id="P", by="student")
    book.agree(store, trial_id="T1", student_id="P", agreed_by="student", agreed_on=DAY, by="coach")
    assert read(store)["given_up_at"].null_count() == 2


@pytest.mark.parametrize(
    ("lot", "lessons"),
    [
        ({}, ["l1"]),
        ({"uses": 2}, ["l1", "l3"]),
        ({"uses": 9}, ["l1", "l3", "l4"]),
        ({"uses": 9, "ends_on": date(2026, 3, 4)}, ["l1", "l3"]),
        ({"drawn_on": date(2026, 3, 3)}, ["l3"]),
        # l1 began its drill at 10:20 in Halifax, 14:20 UTC: a lot of 14:19 or within that minute gave it, a later not.
        ({"drawn_at": datetime(2026, 3, 2, 14, 20, 40)}, ["l1"]),
        ({"drawn_at": datetime(2026, 3, 2, 14, 21)}, ["l3"]),
        # l3's drill, 4 March at 10:20, 14:20 UTC
        ({"uses": 9, "given_up_at": datetime(2026, 3, 4, 14, 20)}, ["l1"]),
        ({"uses": 9, "given_up_at": datetime(2026, 3, 4, 14, 21)}, ["l1", "l3"]),
    ],
)
def test_the_drill_drawn_counts_from_the_draw_on_as_often_as_the_trial_has_it(warehouse, lot, lessons) -> None:
    assert drawn(warehouse, {"l0": "D1", "l1": "D1", "l2": "D2", "l3": "D1", "l4": "D1"}, **lot) == lessons


def test_another_students_drill_is_not_drawn(warehouse) -> None:
    warehouse.execute("update raw.lesson set student_id = 'Q'")
    assert drawn(warehouse, {"l1": "D1"}) == []


def test_a_drill_logged_and_entered_counts_as_one_use(warehouse) -> None:
    warehouse.execute(
        "insert into raw.entered_drill values (null, 'P', 'B1', 'D1', '2026-03-02 10:20:00', null, 'coach')"
    )
    assert drawn(warehouse, {"l1": "D1", "l3": "D1"}, uses=2) == ["l1", "l3"]


def struck(warehouse: duckdb.DuckDBPyConnection, lesson: str, *clubs: str, student: str | None = None) -> None:
    """Strike a ball a minute in a lesson's bay from 10:20 on."""
    shots = [(club, minute, student, lesson) for minute, club in enumerate(clubs)]
    warehouse.executemany(
        "insert into raw.shot by name select starts_at::date as night, bay_id, lesson_id as path, $2 as line, "
        "starts_at as struck_at, starts_at + to_minutes((20 + $2)::integer) as struck_at_local, $1 as club, "
        "$3 as student_id, 60 as ball_speed, 12 as launch_angle from raw.lesson where lesson_id = $4", shots,
    )  # fmt: skip


def test_a_drill_done_with_another_club_is_not_the_lots_use(warehouse) -> None:
    """l1 mostly irons, l2 mostly drivers though not all, l3 balls of somebody else, l4 no ball at all."""
    warehouse.execute("insert into raw.drill values ('D1', 'One', 'club_path', 'raise', null, 'any', null, null, 2)")
    struck(warehouse, "l1", "iron-7", "iron-7", "driver", student="P")
    struck(warehouse, "l2", "iron-7", "driver", "driver")
    struck(warehouse, "l3", "iron-7", student="Q")
    log = {lesson: "D1" for lesson in ("l1", "l2", "l3", "l4")}
    assert drawn(warehouse, log, uses=9) == ["l2", "l3", "l4"]
    warehouse.execute("update raw.drawn_lot set uses = 1")
    assert warehouse.execute("select lesson_id from stage.drawn_drill").fetchall() == [("l2",)]
    for group, lessons in (("iron", ["l1"]), ("any", ["l1"]), ("wedge", ["l3"])):
        warehouse.execute("update raw.drawn_lot set club_group = ?", [group])
        assert [row[0] for row in warehouse.execute("select lesson_id from stage.drawn_drill").fetchall()] == lessons


def test_a_drill_without_a_ball_counts_by_the_clubs_it_is_declared_for(warehouse) -> None:
    warehouse.execute("insert into raw.drill values ('D1', 'One', 'club_path', 'raise', null, 'iron', null, null, 2)")
    assert drawn(warehouse, {"l1": "D1"}) == []
    warehouse.execute("update raw.drawn_lot set club_group = 'iron'")
    assert warehouse.execute("select lesson_id from stage.drawn_drill").fetchall() == [("l1",)]


def test_where_raw_shots_are_kept_no_longer_the_club_is_that_of_the_episode_built(warehouse) -> None:
    struck(warehouse, "l2", "driver")
    log = {"l1": "D1", "l2": "D1"}
    assert drawn(warehouse, log) == ["l1"]
    episode = {
        "night": DAY, "episode_id": "l1-1", "kind": "drill", "drill_id": "D1", "student_id": "P", "session_id": "l1",
        "club": "iron-7", "club_group": "iron", "begins_at": datetime(2026, 3, 2, 10, 20), "drill_shots": 9,
    }  # fmt: skip
    table = TABLES["core.drill_episode"].name
    names = ", ".join(episode)
    warehouse.execute(f"drop table {table}")
    warehouse.execute(TABLES[table].ddl().replace(" not null", ""))
    warehouse.execute(f"insert into {table} ({names}) values ({', '.join('?' * len(episode))})", list(episode.values()))
    assert warehouse.execute("select lesson_id from stage.drawn_drill").fetchall() == [("l2",)]
    # Shots at hand say it better than what was built of them.
    struck(warehouse, "l1", "driver")
    assert warehouse.execute("select lesson_id from stage.drawn_drill").fetchall() == [("l1",)]


def test_a_drill_entered_by_student_and_bay_is_found_in_its_lesson_once(warehouse) -> None:
    drawn(warehouse, {"l1": "D1"})
    warehouse.execute(
        "insert into raw.entered_drill values "
        "(null, 'P', 'B1', 'D1', '2026-03-02 10:20:00', '2026-03-02 10:30:00', 'coach'), "
        "(null, 'P', 'B1', 'D2', '2026-03-02 10:25:00', null, 'student'), "
        "(null, 'P', 'B9', 'D2', '2026-03-02 10:40:00', null, 'coach')"
    )
    logged = warehouse.execute(
        "select lesson_id, drill_id, chosen_by, ends_at::time::varchar, end_assumed, position, followed_by_drill "
        f"from ({models()['stage.logged_drill'].select()}) order by starts_at"
    ).fetchall()
    assert logged == [
        ("l1", "D1", "coach", "10:25:00", False, 1, True), ("l1", "D2", "student", "11:00:00", True, 2, False)
    ]  # fmt: skip


def test_lots_kept_by_a_version_that_knew_no_club_are_made_again_before_the_night_reads_them(warehouse) -> None:
    table = entered.DRAWN_LOT
    drawn(warehouse, {"l1": "D1"})
    warehouse.execute("drop view stage.drawn_drill")
    warehouse.execute(f"alter table {table.name} drop column club_group")
    run.give(warehouse, Settings())
    assert [row[:2] for row in warehouse.execute(f"describe {table.name}").fetchall()] == table.types
    assert warehouse.execute("select count(*) from stage.drawn_drill").fetchone() == (0,)
