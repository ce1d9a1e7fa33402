"""From a lot drawn in the notebook, over the drill logged on whatever way, to who chose it in the published file."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from pipelines.runs import one_machine
from pipelines.runs.one_machine import Outcome
from tests.pipelines.nights.test_small_academies import PROFILE, TABLES, ask, every_minute, export, write
from warehouse.domain.trials.randomisation import ORDER_MARK
from warehouse.home import Home
from warehouse.notebook.actions import begin_drill
from warehouse.notebook.store import Store, open_store
from warehouse.trials import book
from warehouse.trials.plan import Plan

FIRST = datetime(2026, 3, 2, 10)
DAYS = [FIRST + timedelta(days=n) for n in range(3)]
DRILLS = "".join(f"D{n},Drill {n},club_path,raise,,driver\n" for n in (1, 2, 3))
LOG = [f"L{n},{{}},{day.date()}T10:20:00,{day.date()}T10:30:00,coach\n" for n, day in enumerate(DAYS)]
LESSONS = "".join(f"L{n},007,,01,{day.isoformat()},{(day + timedelta(hours=1)).isoformat()}\n"
                  for n, day in enumerate(DAYS))  # fmt: skip
PLAN = Plan(
    trial_id="T1", title="One after the other", kind="crossover", horizon="transfer", treatments=("D1", "D2"),
    metric="club_path", measure="centre", club_group="driver", better=1, matters_from=1.0, students=10, episodes=1,
    weeks=4, gap_middle=0.0,
)  # fmt: skip


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """Three days of one student, each with a lesson; no drill is logged yet."""
    made = Home(tmp_path / "home")
    known = {"drills": TABLES["drills"] + DRILLS, "lessons": TABLES["lessons"].splitlines()[0] + "\n" + LESSONS}
    for name, text in (TABLES | known).items():
        write(made.landing / "academy" / f"{name}.csv", text)
    write(made.landing / "profiles" / "plain.toml", PROFILE)
    for day in DAYS:
        export(made, *every_minute(day, 50))
    return made


@pytest.fixture
def store(home: Home) -> Iterator[Store]:
    opened = open_store(home.notebook_url(""))
    yield opened
    opened.close()


def log(home: Home, *drills: str) -> None:
    """Log a drill a day, each chosen by the coach as the log has it."""
    rows = "".join(line.format(drill) for line, drill in zip(LOG, drills, strict=True))
    write(home.landing / "academy" / "drill_log.csv", TABLES["drill_log"] + rows)


def drawn(store: Store, home: Home, on: date = FIRST.date()) -> list[str]:
    """Draw the student's lot, an order of both drills, and return it."""
    book.begin(store, home.path, PLAN, begun_on=on, by="director")
    book.agree(store, trial_id="T1", student_id="007", agreed_by="student", agreed_on=on, by="coach")
    lot = book.enter_and_draw(
        store, home.path, trial_id="T1", student_id="007", site_id="N", starting_gap=1.0, minor=False, consent=True,
        on=on, by="coach",
    )  # fmt: skip
    return lot.arm.split(ORDER_MARK)


def choosers(home: Home) -> list[tuple]:
    """Take a night in; return drill and chooser of each episode in order."""
    assert one_machine.run(home).outcome in {Outcome.PUBLISHED, Outcome.PUBLISHED_WITH_WARNINGS}
    return ask(home, "select drill_id, chosen_by from core.drill_episode where kind = 'drill' order by begins_at")


def test_a_logged_drill_that_was_drawn_is_chosen_by_draw_as_often_as_the_trial_has_it(home, store, in_memory) -> None:
    log(home, "D1", "D3", "D1")
    assert choosers(home) == [("D1", "coach"), ("D3", "coach"), ("D1", "coach")]
    drawn(store, home)
    # Nothing landed: the lot alone builds the night again.
    assert choosers(home) == [("D1", "draw"), ("D3", "coach"), ("D1", "coach")]


def test_a_drill_entered_in_the_notebook_is_marked_and_what_came_before_the_draw_is_not(home, store, in_memory) -> None:
    log(home, "D1", "D2", "D3")
    drawn(store, home, on=DAYS[1].date())
    begin_drill(
        store, drill_id="D1", student_id="007", bay_id="01", starts_at=DAYS[2] + timedelta(minutes=40), by="coach",
        ends_at=DAYS[2] + timedelta(minutes=44),
    )  # fmt: skip
    assert choosers(home) == [("D1", "coach"), ("D2", "draw"), ("D3", "coach"), ("D1", "draw")]


def test_after_the_trial_has_ended_nothing_is_drawn_any_more(home, store, in_memory) -> None:
    log(home, "D3", "D2", "D1")
    drawn(store, home)
    book.end(store, home.path, trial_id="T1", on=DAYS[1].date(), by="director")
    assert choosers(home) == [("D3", "coach"), ("D2", "draw"), ("D1", "coach")]
