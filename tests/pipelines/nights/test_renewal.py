"""Past a size evidence is carried over until the history has grown, and a renewal ends as if it never had been."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from demo_data.generate import SAMPLE_FOLDER
from pipelines.runs import one_machine
from pipelines.runs.one_machine import Outcome
from tests.clock import morning_zone
from tests.pipelines.nights.conftest import Rows, Term, copied, differing, events_in_memory, rows
from warehouse import connection
from warehouse.build import freshness, refit_policy, run
from warehouse.build.model import models
from warehouse.home import Home
from warehouse.landing.reference import load as reference
from warehouse.settings.settings import Evidence, Settings, load

FILE = "2026-01-11/01.csv"
PUBLISHED = (Outcome.PUBLISHED, Outcome.PUBLISHED_WITH_WARNINGS)
ZONE = morning_zone()
"""Where the academy is: a week does not end there while these tests run."""
LARGE = f'[academy]\ntimezone = "{ZONE}"\n[evidence]\nevery_night_up_to_shots = 0\nrenew_from_share = {{share}}\n'


def set_share(home: Home, share: float) -> None:
    """Let the home count as large, and say how much of it must change."""
    (home.path / "academy.toml").write_text(LARGE.format(share=share), encoding="utf-8")


@contextmanager
def opened(home: Home, settings: Settings | None = None) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open a home's private databases as a run does."""
    with connection.private(home) as private:
        run.prepare(private, settings or load(home.path))
        yield private


@pytest.fixture(scope="module")
def morning(term: Term, tmp_path_factory: pytest.TempPathFactory) -> Home:
    """Return a large home that published its evidence and does not hold the last night's first bay yet."""
    home = copied(term.home, tmp_path_factory.mktemp("renewal") / "home")
    (home.landing / "shots" / FILE).unlink()
    set_share(home, 0.5)
    with events_in_memory():
        assert one_machine.run(home, rebuild=True).outcome in PUBLISHED
    return home


@pytest.fixture(scope="module")
def carried(morning: Home, tmp_path_factory: pytest.TempPathFactory) -> tuple[Home, Rows]:
    """Return the home after a night that brought that bay in, and its rows."""
    home = copied(morning, tmp_path_factory.mktemp("carried") / "home")
    shutil.copyfile(SAMPLE_FOLDER / "landing" / "shots" / FILE, home.landing / "shots" / FILE)
    with events_in_memory():
        assert one_machine.run(home).outcome in PUBLISHED
    return home, rows(home.current)


def test_every_fitted_table_is_one_that_is_made_whole() -> None:
    whole = {model.name for model in models().values() if not model.by_night}
    assert whole >= refit_policy.FITTED


def test_a_night_that_changes_little_brings_shots_in_and_carries_the_evidence_over(morning, carried) -> None:
    before, after = rows(morning.current), carried[1]
    assert [name for name in refit_policy.FITTED if after[name] != before[name]] == []
    for name in ("core.shot", "mart.bay_night", *run.MADE_FROM):
        assert after[name] != before[name], name


def test_levels_and_episodes_of_a_night_that_carries_over_are_those_made_of_all_nights_with_the_same_offsets(
    carried,
) -> None:
    home, published = carried
    settings = load(home.path)
    with opened(home, settings) as private:
        for name in run.MADE_FROM:
            run.build_table(private, name, settings)
            whole = sorted(private.execute(f"from {name}").fetchall(), key=repr)
            assert whole == published[name], name


def test_the_published_file_says_how_old_the_evidence_is(carried) -> None:
    with duckdb.connect(carried[0].current.resolve(), read_only=True) as published:
        made = dict(published.execute("select part, made_at from ops.current_through").fetchall())
    assert made[freshness.EVIDENCE] < made[freshness.BLOCKS]


def test_once_enough_has_changed_the_evidence_equals_that_of_a_home_that_never_carried_it_over(
    carried, in_memory, tmp_path
) -> None:
    home = copied(carried[0], tmp_path / "home")
    set_share(home, 0)
    assert one_machine.run(home).outcome in PUBLISHED
    twin = copied(home, tmp_path / "twin")
    assert one_machine.run(twin, rebuild=True).outcome in PUBLISHED
    assert differing(rows(home.current), rows(twin.current)) == {}


def why(home: Home, settings: Settings | None = None, *, now: datetime | None = None, sql: str = "") -> str | None:
    """Return why the evidence of a home is due, after a change that is taken back."""
    settings = settings or load(home.path)
    with opened(home, settings) as private:
        private.execute("begin")
        if sql:
            private.execute(sql)
        found = refit_policy.reason(private, settings, now or datetime.now(UTC))
        private.execute("rollback")
    return found


def test_nothing_changed_and_the_evidence_stays(morning) -> None:
    assert why(morning) is None


def test_up_to_the_size_set_it_is_renewed_every_night(morning) -> None:
    assert why(morning, Settings()) == "every night up to 3,000,000 shots"


def test_it_is_renewed_when_a_new_week_begins_in_the_academys_time_zone(morning) -> None:
    this_week = datetime.now(UTC)
    assert why(morning, now=this_week) is None
    assert why(morning, now=this_week + timedelta(days=7)) == "a new week has begun"


@pytest.mark.parametrize(
    "sql",
    [
        "update raw.student set consent_evidence = 'no' where student_id = (select min(student_id) from core.session "
        "semi join (from raw.student where coalesce(consent_evidence, consent) = 'yes') using (student_id))",
        "update raw.drill set aim_target = 3 where drill_id = (select min(drill_id) from raw.drill)",
        "update raw.bay set ball = 'premium'",
        "insert into raw.event (scope, id, on_date, kind) values ('bay', '01', '2026-01-08', 'device recalibrated')",
    ],
)
def test_it_is_renewed_when_something_it_rests_on_changes(morning, sql: str) -> None:
    assert why(morning, sql=sql) == "what it rests on beside the nights changed"


def test_a_new_student_without_a_session_does_not_renew_it(morning) -> None:
    new = "insert into raw.student (student_id, name, handed, consent) values ('new', 'New', 'right', 'yes')"
    assert why(morning, sql=new) is None


def test_changed_settings_renew_it(morning) -> None:
    settings = load(morning.path).model_copy(update={"matters": {"attack_angle": 2.0}})
    assert why(morning, settings) == "what it rests on beside the nights changed"


def test_shots_of_changed_nights_are_counted_as_changed(morning) -> None:
    settings = load(morning.path).model_copy(
        update={"evidence": Evidence(every_night_up_to_shots=0, renew_from_share=0.05)}
    )
    changed = "update ops.night set fingerprint = 'other' where night = '2026-01-08'"
    with opened(morning, settings) as private:
        renewed = private.execute(
            "select sum(shots) filter (night = '2026-01-08') / sum(shots) from ops.night"
        ).fetchone()[0]
    assert renewed > 0.05
    assert why(morning, settings, sql=changed) == f"{renewed:.1%} of the history is new or changed"


def test_evidence_that_was_being_made_when_a_night_ended_is_never_carried_over(morning) -> None:
    unsettled = f"update ops.current_through set made_by = 'x' where part = '{freshness.EVIDENCE}'"
    assert why(morning, sql=unsettled) == "there is none that is whole and of this program"


def test_a_home_that_never_published_evidence_makes_it(tmp_path: Path) -> None:
    with connection.private(Home(tmp_path)) as private:
        reference.create_tables(private)
        run.prepare(private, Settings())
        assert refit_policy.due(private, Settings()) == "there is none that is whole and of this program"
