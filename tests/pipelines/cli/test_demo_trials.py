"""The made academy's trials in a notebook: drawn by the store's own functions, and in agreement with what is landed."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from demo_data.academy import SMALL
from demo_data.generate import SEED, write_academy
from demo_data.term import play
from pipelines.cli import demo_trials
from tests.brought_in import bring_in, build_whole
from warehouse.connection import private
from warehouse.home import Home
from warehouse.notebook.store import Store, current, history, open_store
from warehouse.settings.settings import Settings
from warehouse.trials import book, outcomes

TODAY = date(2026, 6, 1)


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Home:
    """Return a home with the small academy and its trials, nothing brought in yet."""
    made = Home(tmp_path_factory.mktemp("demo_trials") / "home")
    with demo_trials.drawing(made, SEED, TODAY) as lots:
        write_academy(made.landing, small=True, lots=lots)
    return made


@pytest.fixture
def store(home: Home) -> Iterator[Store]:
    """Return its notebook."""
    opened = open_store(home.notebook_url(""))
    yield opened
    opened.close()


def test_the_notebook_holds_one_trial_of_each_state(store: Store) -> None:
    states = dict(book.overview(store, TODAY).select("trial_id", "state").iter_rows())
    assert states == {"T1": "finished", "T2": "running", "T3": "planned"}


def test_the_planned_trial_is_open_to_cohorts_that_have_members_then(home: Home, store: Store) -> None:
    row, plan = book.trial(store, "T3")
    enrolled = pl.read_csv(home.landing / "academy" / "enrolments.csv", infer_schema=False)
    later = enrolled.filter(
        pl.col("cohort").is_in(plan.cohorts),
        pl.col("from_date").str.to_date() <= row["begun_on"],
        pl.col("to_date").is_null(),
    )
    assert set(later["cohort"]) == set(plan.cohorts) and later.height >= plan.students > 0


def test_every_lot_of_the_finished_trial_agrees_with_its_opened_secret(store: Store) -> None:
    assert book.lots_so_far(store, "T1").height >= 12
    assert book.check(store, "T1") == []


def test_the_running_trials_secret_is_not_in_the_notebook(home: Home, store: Store) -> None:
    secret = (home.path / "trials" / "T2.secret").read_text()
    assert secret not in str(current(store, "trial")["opened_secret"].to_list())


def test_minors_were_entered_with_two_agreements_and_nobody_without_one(store: Store) -> None:
    given = history(store, "trial_agreement").filter(~pl.col("withdrawn"))
    agreed = given.group_by("trial_id", "student_id").agg("agreed_by")
    entered = current(store, "trial_participant").select("trial_id", "student_id")
    joined = entered.join(agreed, on=["trial_id", "student_id"], how="left")
    assert joined["agreed_by"].list.contains("student").all()
    assert joined["agreed_by"].list.contains("guardian").any()


def test_one_of_the_running_trial_took_the_agreement_back(store: Store) -> None:
    standing = current(store, "trial_agreement").filter(pl.col("agreed_by") == "student")
    entered = current(store, "trial_participant").join(standing, on=["trial_id", "student_id"], how="anti")
    assert entered["trial_id"].to_list() == ["T2"]


def test_the_same_seed_draws_the_same_lots_and_lands_the_same_files(home: Home, store: Store, tmp_path: Path) -> None:
    again = Home(tmp_path / "again")
    with demo_trials.drawing(again, SEED, TODAY) as lots:
        write_academy(again.landing, small=True, lots=lots)
    other = open_store(again.notebook_url(""))
    for trial_id in ("T1", "T2"):
        assert (
            book.lots_so_far(other, trial_id)
            .drop("entered_at")
            .equals(book.lots_so_far(store, trial_id).drop("entered_at"))
        )
    other.close()
    log = "academy/drill_log.csv"
    assert (again.landing / log).read_bytes() == (home.landing / log).read_bytes()


def test_a_demo_begun_anew_keeps_what_was_drawn(home: Home, store: Store) -> None:
    before = book.lots_so_far(store, "T1")
    with demo_trials.drawing(home, SEED, TODAY) as lots:
        play(SMALL, SEED, lots)
    assert book.lots_so_far(store, "T1").equals(before)


def test_the_finished_trial_can_be_read_and_its_interval_holds_what_was_planted(home: Home, store: Store) -> None:
    """The chain from landing to outcome: what the log says was drawn is what those drawn did."""
    settings = Settings()
    with private(home) as con:
        bring_in(con, home, settings)
        build_whole(con, settings, "core.episode_metric", "core.first_block")
        rows = outcomes.participants(store, con, "T1")
        found = outcomes.result(store, con, "T1").row(by_predicate=pl.col("analysis") == "as drawn", named=True)
        drawn = con.execute(
            "select drill_id, student_id from core.drill_episode where chosen_by = 'draw' and drill_id <> 'D02'"
        ).pl()
    done = rows.filter(pl.col("done") == pl.col("arm"))
    assert done.height >= 12
    assert done.join(drawn, left_on=["student_id", "arm"], right_on=["student_id", "drill_id"], how="anti").is_empty()
    truth = pl.read_csv(home.path / "planted_truth" / "episodes.csv", schema_overrides={"student_id": pl.String})
    planted = truth.filter((pl.col("metric") == "attack_angle") & (pl.col("chosen_by") == "draw"))
    mean = {arm: planted.filter(pl.col("drill_id") == arm)["transfer"].mean() for arm in ("D01", "D04")}
    assert found["ci_low"] < mean["D04"] - mean["D01"] < found["ci_high"]
