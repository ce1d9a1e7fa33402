"""Nights of academies made for one question: clock changes, midnight, a broken private database, the first night."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from pipelines.graph.partitions import nights_landed
from pipelines.runs import one_machine
from pipelines.runs.one_machine import Outcome
from tests.pipelines.nights.conftest import differing, rows
from warehouse.build import run
from warehouse.home import Home
from warehouse.settings.settings import Settings

TABLES = {
    "sites": "site_id,name,timezone,altitude_m\nN,North,Europe/Lisbon,12\n",
    "bays": "bay_id,site_id,export_profile,setting,ball\n01,N,plain,indoor,range\n",
    "coaches": "coach_id,name\n",
    "students": "student_id,name,handed,joined_on,consent\n007,A Student,left,2023-01-01,yes\n",
    "drills": "drill_id,name,aim_metric,aim_direction,aim_target,club_group\n",
    "lessons": "lesson_id,student_id,coach_id,bay_id,starts_at,ends_at\n"
    "L1,007,,01,2026-10-24T23:30:00,2026-10-25T04:00:00\nL2,007,,01,2026-03-29T00:30:00,2026-03-29T04:00:00\n",
    "drill_log": "lesson_id,drill_id,starts_at,ends_at,chosen_by\n",
}
PROFILE = """
[columns]
struck_at = { from = "time" }
club = { from = "club" }
ball_speed = { from = "ball", unit = "m/s" }
launch_angle = { from = "launch", unit = "deg" }
club_path = { from = "path", unit = "deg", positive = "right", optional = true }
"""


def write(path: Path, text: str) -> None:
    """Write a file and the folders above it."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text)


def export(home: Home, *moments: datetime) -> None:
    """Write one night's export with a shot at each moment."""
    lines = "".join(f"{at.isoformat()},driver,{60 + n % 3},12,{n % 5 - 2}\n" for n, at in enumerate(moments))
    write(home.landing / "shots" / moments[0].date().isoformat() / "01.csv", "time,club,ball,launch,path\n" + lines)


def leave_out_lesson(home: Home, lesson_id: str) -> None:
    """Take a lesson out of the book, so that nothing is missing where its night has no file."""
    path = home.landing / "academy" / "lessons.csv"
    lines = path.read_text().splitlines(keepends=True)
    path.write_text("".join(line for line in lines if not line.startswith(f"{lesson_id},")))


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """A home that holds nothing but landing/, with no night in it."""
    made = Home(tmp_path / "home")
    for name, text in TABLES.items():
        write(made.landing / "academy" / f"{name}.csv", text)
    write(made.landing / "profiles" / "plain.toml", PROFILE)
    return made


def ask(home: Home, sql: str) -> list[tuple]:
    """Ask the published file."""
    with duckdb.connect(home.current.resolve(), read_only=True) as opened:
        return opened.execute(sql).fetchall()


def every_minute(first: datetime, minutes: int) -> list[datetime]:
    """Return moments a minute apart."""
    return [first + timedelta(minutes=minute) for minute in range(minutes)]


def test_lessons_past_midnight_and_over_the_end_of_summer_time(home: Home, in_memory) -> None:
    """Lisbon went from +01:00 to +00:00 at 02:00 on 25 October 2026 (IANA time zone database)."""
    assert [path.name for path in home.path.iterdir()] == ["landing"]
    evening = every_minute(datetime(2026, 10, 24, 23, 35), 20)
    morning = [*every_minute(datetime(2026, 10, 25, 0, 5), 20), *every_minute(datetime(2026, 10, 25, 2, 5), 20)]
    export(home, *evening)
    assert one_machine.run(home).outcome == Outcome.PUBLISHED
    export(home, *morning)
    night = one_machine.run(home)
    assert (night.outcome, night.message) == (Outcome.PUBLISHED, "published through 2026-10-25")
    offsets = (
        "select night, struck_at_local - struck_at as ahead, count(*), count(lesson_id) from core.shot group by all"
    )
    assert sorted(ask(home, offsets)) == [
        (evening[0].date(), timedelta(hours=1), 20, 20),
        (morning[0].date(), timedelta(0), 20, 20),
        (morning[0].date(), timedelta(hours=1), 20, 20),
    ]
    sessions = "select session_id, kind, lesson_id, shots from core.session order by all"
    assert ask(home, sessions) == [("L1", "lesson", "L1", 20), ("L1 2026-10-25", "lesson", "L1", 40)]
    together = rows(home.current)
    assert one_machine.run(home, rebuild=True).outcome == Outcome.PUBLISHED
    assert differing(together, rows(home.current)) == {}


@pytest.mark.parametrize("booked", [True, False])
def test_the_half_of_a_stay_past_midnight_is_no_next_session(home: Home, in_memory, booked: bool) -> None:
    lessons = [
        "L3,007,,01,2026-05-04T23:00:00,2026-05-05T01:00:00",
        "L4,007,,01,2026-05-07T10:00:00,2026-05-07T11:00:00",
    ]
    header = TABLES["lessons"].splitlines()[:1]
    write(home.landing / "academy" / "lessons.csv", "\n".join(header + lessons * booked) + "\n")
    write(home.landing / "profiles" / "plain.toml", PROFILE + 'student_id = { from = "who" }\n')
    for first, minutes in (
        (datetime(2026, 5, 4, 23, 5), 50),
        (datetime(2026, 5, 5, 0, 5), 40),
        (datetime(2026, 5, 7, 10), 30),
    ):
        export(home, *every_minute(first, minutes))
        landed = home.landing / "shots" / first.date().isoformat() / "01.csv"
        top, *shots = landed.read_text().splitlines()
        landed.write_text("".join(f"{line}\n" for line in (f"{top},who", *(f"{shot},007" for shot in shots))))
    assert one_machine.run(home).outcome == Outcome.PUBLISHED
    begun = ask(home, "select night from core.first_block where metric = 'ball_speed' order by night")
    assert [night.day for (night,) in begun] == [4, 7]
    of_evening = "select next_days from core.episode_metric join core.drill_episode using (episode_id)"
    assert ask(home, f"{of_evening} where night = '2026-05-04' and metric = 'ball_speed'") == [(3,)]


def test_balls_of_a_drill_past_midnight_name_no_episode_that_is_not_there(home: Home, in_memory) -> None:
    write(home.landing / "academy" / "drills.csv", TABLES["drills"] + "D1,Rod,,,,any\n")
    write(home.landing / "academy" / "drill_log.csv", TABLES["drill_log"] + "L1,D1,2026-10-24T23:50:00,"
          "2026-10-25T00:15:00,coach\n")  # fmt: skip
    export(home, *every_minute(datetime(2026, 10, 24, 23, 35), 20))
    export(home, *every_minute(datetime(2026, 10, 25, 0, 5), 20))
    assert one_machine.run(home).outcome in {Outcome.PUBLISHED, Outcome.PUBLISHED_WITH_WARNINGS}
    drilled = "select night, episode_id, count(*) from core.shot where phase = 'drill' group by all order by all"
    begun, ran_on = datetime(2026, 10, 24).date(), datetime(2026, 10, 25).date()
    assert ask(home, drilled) == [(begun, "L1-1", 5), (ran_on, None, 10)]
    episodes = "select episode_id, drill_shots, pre_struck from core.drill_episode where kind = 'drill'"
    assert ask(home, episodes) == [("L1-1", 5, 15)]


def test_the_night_on_which_summer_time_begins_loads_whole(home: Home, in_memory) -> None:
    """Lisbon went from +00:00 to +01:00 at 01:00 on 29 March 2026 (IANA time zone database)."""
    export(home, *every_minute(datetime(2026, 3, 29, 0, 40), 15), *every_minute(datetime(2026, 3, 29, 2, 0), 15))
    leave_out_lesson(home, "L1")
    assert one_machine.run(home).outcome == Outcome.PUBLISHED
    offsets = "select struck_at_local - struck_at as ahead, count(*), count(lesson_id) from core.shot group by all"
    assert sorted(ask(home, offsets)) == [(timedelta(0), 15, 15), (timedelta(hours=1), 15, 15)]
    assert ask(home, "select kind, pre_struck + post_struck from core.drill_episode") == [("free_practice", 30)]


def test_a_private_database_that_is_damaged_is_built_again_from_landing(home: Home, in_memory) -> None:
    export(home, *every_minute(datetime(2026, 3, 29, 2, 0), 30))
    leave_out_lesson(home, "L1")
    assert one_machine.run(home).outcome == Outcome.PUBLISHED
    before, published = rows(home.current), ask(home, "select published_at from ops.publication")
    database = home.private / "warehouse.duckdb"
    for damaged in (b"not a database" * 999, database.read_bytes()[: 2**16]):
        database.write_bytes(damaged)
        assert one_machine.run(home).outcome == Outcome.PUBLISHED
        assert differing(before, rows(home.current)) == {}
    assert ask(home, "select published_at from ops.publication order by all")[:1] == published


def test_an_academy_without_a_night_yet_publishes_an_empty_file(home: Home, in_memory) -> None:
    night = one_machine.run(home)
    assert night.outcome in {Outcome.PUBLISHED, Outcome.PUBLISHED_WITH_WARNINGS}
    assert ask(home, "select (select count(*) from core.shot), (select count(*) from mart.student)") == [(0, 1)]


def test_a_database_without_enough_memory_names_the_setting_that_gives_it_more(
    home: Home, in_memory, monkeypatch: pytest.MonkeyPatch
) -> None:
    run_model = run.run_model

    def too_large(connection, model, *given, **named) -> int:
        if model.name == "mart.goal":
            connection.execute("set memory_limit = '40MB'")
            connection.execute("select list(number order by hash(number)) from range(30000000) as numbers(number)")
        return run_model(connection, model, *given, **named)

    monkeypatch.setattr(run, "run_model", too_large)
    ended = one_machine.run(home)
    assert ended.outcome == Outcome.NOT_PUBLISHED
    assert "Out of Memory" in ended.message
    assert ended.message.endswith("raise [limits] database_gigabytes in academy.toml")


def test_a_night_that_never_landed_is_said_when_asked_for(home: Home) -> None:
    export(home, *every_minute(datetime(2026, 3, 29, 2, 0), 30))
    night = one_machine.run(home, night=datetime(2019, 1, 1).date())
    assert night.outcome == Outcome.NOT_PUBLISHED
    assert "2019-01-01 does not exist" in night.message
    assert not home.current.exists()


def test_folders_that_are_not_named_by_a_date_in_full_are_no_nights(home: Home) -> None:
    for name in ("2026-03-29", "20260330", "2026-W14-1", "old"):
        (home.landing / "shots" / name).mkdir(parents=True)
    write(home.landing / "shots" / "2026-03-31", "a file, not a folder")
    assert nights_landed(home, Settings()) == [datetime(2026, 3, 29).date()]
