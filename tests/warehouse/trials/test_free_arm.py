"""Free balls drawn in a lesson, from the moment they began to the trial's outcome; drill episodes stay as they are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from tests.brought_in import bring_in, build_whole
from tests.pipelines.nights.test_small_academies import PROFILE, TABLES, write
from tests.warehouse.trials.test_book import DAY, PLAN, agree, draw
from warehouse.connection import private
from warehouse.domain.trials import randomisation
from warehouse.home import Home
from warehouse.notebook.reading import read_entries
from warehouse.notebook.store import NotebookRefused, Store, open_store
from warehouse.settings.settings import Settings
from warehouse.trials import book, free_balls, outcomes
from warehouse.trials.plan import Plan

FIRST = datetime(2026, 6, 1, 10)
MOST = 12
LESSONS = "".join(
    f"L{n},007,k,01,{(FIRST + timedelta(days=n)).isoformat()},{(FIRST + timedelta(days=n, hours=1)).isoformat()}\n"
    for n in range(5)
)
# Lisbon is an hour ahead of UTC in June: a draw at 09:20 UTC is one at 10:20.
STARTS = [
    (0, "09:20", "draw"), (1, "09:05", "draw"), (1, "10:20", "tap"), (1, "10:22", "tap"), (2, "10:20", "tap"),
    (3, "10:47", "tap"), (4, "11:30", "draw"),
]  # fmt: skip
LOG = "L1,D1,2026-06-02T10:35:00,2026-06-02T10:40:00,coach\nL2,D1,2026-06-03T10:05:00,2026-06-03T10:10:00,coach\n"
FREE_PLAN = replace(PLAN, metric="club_path", episodes=1, free_practice_balls=MOST)


def path_of(minute: int) -> int:
    """Club path by the minute, as a bay says it: 1 before the free balls begin at 20, then 3, past the cap 9."""
    return 1 if minute < 20 else 3 if minute < 20 + MOST else 9


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Home:
    """Five days with a lesson of a left-hander, a ball a minute from 10:00 to 10:49, the second with a drill at the end
    and the third with one at the start."""
    made = Home(tmp_path_factory.mktemp("free_arm") / "home")
    drills = TABLES["drills"] + "D1,One,club_path,raise,,driver\n"
    lessons = TABLES["lessons"].splitlines()[0] + "\n" + LESSONS
    given = {"coaches": "coach_id,name\nk,A Coach\n", "drills": drills, "lessons": lessons,
             "drill_log": TABLES["drill_log"] + LOG}  # fmt: skip
    for name, text in (TABLES | given).items():
        write(made.landing / "academy" / f"{name}.csv", text)
    write(made.landing / "profiles" / "plain.toml", PROFILE)
    for n in range(5):
        day = FIRST + timedelta(days=n)
        shots = (f"{(day + timedelta(minutes=m)).isoformat()},driver,{60 + m % 3},12,{path_of(m)}\n" for m in range(50))
        write(made.landing / "shots" / f"{day.date()}" / "01.csv", "time,club,ball,launch,path\n" + "".join(shots))
    return made


@pytest.fixture(scope="module")
def built(home: Home) -> Iterator[duckdb.DuckDBPyConnection]:
    """The nights and whole tables of that home, with the moments at which free balls began."""
    with private(home) as con:

        def begun() -> None:
            for n, clock, by in STARTS:
                at = f"{(FIRST + timedelta(days=n)).date()} {clock}:00"
                con.execute("insert into raw.free_start values ('T1', '007', ?, ?, ?)", [at, by, MOST])

        bring_in(con, home, Settings(), begun)
        build_whole(con, Settings(), "core.free_arm")
        yield con


def arms(con: duckdb.DuckDBPyConnection, columns: str) -> list[tuple]:
    query = f"select session_id, {columns} from core.free_arm where metric = 'club_path' order by session_id"
    return con.execute(query).fetchall()


def test_the_moment_is_the_tap_else_the_draw_and_one_outside_the_lesson_is_none(built) -> None:
    assert arms(built, "begun_by, begins_at::time::varchar") == [
        ("L0", "draw", "10:20:00"), ("L1", "tap", "10:20:00"), ("L2", "tap", "10:20:00"), ("L3", "tap", "10:47:00"),
    ]  # fmt: skip


def test_before_is_back_to_the_drill_after_is_up_to_the_cap_or_the_next_drill_and_all_balls_are_counted(built) -> None:
    assert arms(built, "pre_shots, post_shots, balls, followed_by_drill, excluded_reason") == [
        ("L0", 20, MOST, 30, False, None), ("L1", 20, MOST, 15, True, None), ("L2", 10, MOST, 30, False, None),
        ("L3", 47, 3, 3, False, "too few shots"),
    ]  # fmt: skip


def test_blocks_are_mirrored_and_balls_past_the_cap_are_in_none(built) -> None:
    assert [row[1:] for row in arms(built, "pre_centre, post_centre")][:3] == [(-1.0, -3.0)] * 3


def test_the_next_session_is_that_of_the_lesson_and_none_where_a_drill_followed(built) -> None:
    read = built.execute(
        "select next_session_id, next_shots, next_centre from core.episode_metric where episode_id = 'L0-free' "
        "and metric = 'club_path'"
    ).fetchone()
    found = dict((row[0], row[1:]) for row in arms(built, "next_session_id, next_shots, next_centre"))
    assert found["L0"] == read and read[0] == "L1"
    assert found["L1"] == (None, None, None)


def test_drill_episodes_are_the_same_with_and_without_free_balls_drawn(built, home: Home, tmp_path: Path) -> None:
    bare = Home(tmp_path / "bare")
    bare.path.mkdir()
    (bare.path / "landing").symlink_to(home.landing)
    tables = ("core.drill_episode", "core.episode_metric", "core.first_block")
    with private(bare) as con:
        bring_in(con, bare, Settings())
        build_whole(con, Settings(), "core.free_arm")
        assert con.execute("select count(*) from core.free_arm").fetchone() == (0,)
        for table in tables:
            held = con.execute(f"from {table} order by all").fetchall()
            assert held == built.execute(f"from {table} order by all").fetchall() and held
        kinds = con.execute("select kind, count(*) from core.drill_episode group by kind order by all").fetchall()
        assert kinds == [("drill", 2), ("free_practice", 3)]


def begun(
    store: Store, home: Path, monkeypatch: pytest.MonkeyPatch, plan: Plan, student: str, arm: str, on: date = DAY
) -> None:
    """Enter a student to whom this arm is drawn."""
    book.begin(store, home, plan, begun_on=DAY, by="director")
    agree(store, student)
    monkeypatch.setattr(book.randomisation, "draw", lambda *_: randomisation.Lot("e", "s", 0, 0, arm))
    draw(store, home, student, on=on)


def test_a_drill_done_on_the_day_of_the_draw_before_its_free_balls_is_none_of_the_trials(
    built, store, tmp_path, monkeypatch
) -> None:
    begun(store, tmp_path, monkeypatch, FREE_PLAN, "007", "free practice", on=date(2026, 6, 3))
    found = outcomes.episodes_of(built, FREE_PLAN, outcomes._drawn(store, "T1"))
    assert found["begins_at"].min() == datetime(2026, 6, 3, 10, 20) and "D1" not in found["treatment"]


@pytest.mark.parametrize(("horizon", "block"), [("transfer", "post"), ("retention", "next")])
def test_the_arms_own_episode_is_the_outcome_and_the_coachs_choice_after_it_is_none(
    built, store, tmp_path, monkeypatch, horizon: str, block: str
) -> None:
    plan = replace(FREE_PLAN, horizon=horizon)
    begun(store, tmp_path, monkeypatch, plan, "007", "free practice")
    found = outcomes.episodes_of(built, plan, outcomes._drawn(store, "T1"))
    # L3 is too short and the drill of L1 was the coach's choice after the arm's balls; that of L2 came before them; L4
    # has no moment of its own: there the two halves of a drill-free session count as everywhere.
    assert found.select("begins_at", "treatment").filter(found["begins_at"].dt.date() < date(2026, 6, 5)).rows() == [
        (datetime(2026, 6, 1, 10, 20), "free practice"), (datetime(2026, 6, 2, 10, 20), "free practice"),
        (datetime(2026, 6, 3, 10, 5), "D1"), (datetime(2026, 6, 3, 10, 20), "free practice"),
    ]  # fmt: skip
    assert found.height == 5
    gained = dict((row[0], row[1]) for row in arms(built, f"{block}_centre - pre_centre"))
    row = outcomes.participants(store, built, "T1").row(0, named=True)
    assert (row["done"], row["arm"]) == ("free practice", "free practice")
    assert row["outcome"] - row["baseline"] == pytest.approx(gained["L0"])


def test_a_drill_drawn_and_done_in_a_lesson_is_not_touched_by_another_students_free_balls(
    built, store, tmp_path, monkeypatch
) -> None:
    plan = replace(FREE_PLAN, trial_id="T1", treatments=("free practice", "D1"))
    begun(store, tmp_path, monkeypatch, plan, "007", "D1")
    found = outcomes.episodes_of(built, replace(plan, trial_id="T2"), outcomes._drawn(store, "T1"))
    assert found.filter(found["treatment"] == "D1").height == 2


def test_balls_are_counted_in_the_notebook_for_every_tablet_and_can_be_counted_anew(
    store, tmp_path, monkeypatch
) -> None:
    begun(store, tmp_path, monkeypatch, FREE_PLAN, "s1", "free practice")
    at = datetime(2026, 3, 2, 10)
    given = {"trial_id": "T1", "student_id": "s1", "bay_id": "B1", "by": "coach"}
    assert free_balls.counted(store, "T1", "s1", DAY) == (None, 0)
    for minute, balls in ((0, 0), (2, 5), (3, 1)):
        free_balls.add(store, at=at + timedelta(minutes=minute), balls=balls, **given)
    ticket = "00000000-0000-4000-8000-000000000001"
    for _ in range(2):
        free_balls.add(store, at=at + timedelta(minutes=4), balls=5, entry_id=ticket, **given)
    other = open_store(str(store.engine.url))
    assert free_balls.counted(other, "T1", "s1", DAY) == (at, 11)
    assert free_balls.counted(other, "T1", "s1", date(2026, 3, 3)) == (None, 0)
    assert free_balls.anew(other, "T1", "s1", DAY, "coach") == 4
    other.close()
    assert free_balls.counted(store, "T1", "s1", DAY) == (None, 0)


def test_only_who_drew_free_practice_has_balls_counted(store, tmp_path, monkeypatch) -> None:
    begun(store, tmp_path, monkeypatch, FREE_PLAN, "s1", "D01")
    given = {"trial_id": "T1", "bay_id": "B1", "at": datetime(2026, 3, 2, 10), "by": "coach"}
    for student, balls in (("s1", 1), ("s2", 0)):
        with pytest.raises(NotebookRefused, match="did not draw free practice"):
            free_balls.add(store, student_id=student, balls=balls, **given)
    assert free_balls.free_starts(read_entries(str(store.engine.url))).is_empty()


def test_the_night_reads_the_draw_and_each_tap_that_begins(store, tmp_path, monkeypatch) -> None:
    begun(store, tmp_path, monkeypatch, FREE_PLAN, "s1", "free practice")
    at = datetime(2026, 3, 2, 10)
    for minute, balls in ((0, 0), (1, 5)):
        free_balls.add(store, trial_id="T1", student_id="s1", bay_id="B1", at=at + timedelta(minutes=minute),
                       balls=balls, by="coach")  # fmt: skip
    with pytest.raises(NotebookRefused, match="between 0 and 100"):
        free_balls.add(store, trial_id="T1", student_id="s1", bay_id="B1", at=at, balls=-1, by="coach")
    starts = free_balls.free_starts(read_entries(str(store.engine.url)))
    assert dict(starts.schema) == free_balls.STARTS
    assert starts.filter(starts["begun_by"] == "tap").select("student_id", "at", "most_balls").rows() == [
        ("s1", at, MOST)
    ]
    assert starts.filter(starts["begun_by"] == "draw").height == 1
