"""What is entered, corrected and taken back, and how it stands."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest
from sqlalchemy import text
from sqlalchemy.exc import DatabaseError

from warehouse.notebook import actions
from warehouse.notebook.measures import measures
from warehouse.notebook.store import NotebookRefused, Store, correct, current, enter, history, open_store, withdraw

TEN = datetime(2024, 5, 6, 10, 0)
LATER = TEN + timedelta(minutes=9)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    opened = open_store(f"sqlite:///{tmp_path / 'notebook.sqlite'}")
    yield opened
    opened.close()


def begun(store: Store, **changes: object) -> str:
    given = {"drill_id": "D1", "lesson_id": "007", "starts_at": TEN, "by": "coach"} | changes
    return actions.begin_drill(store, **given)  # type: ignore[arg-type]


def test_a_drill_begins_and_ends_and_stands_once(store: Store) -> None:
    first = begun(store)
    assert current(store, "drill_entry")["ends_at"].to_list() == [None]
    actions.end_drill(store, first, ends_at=LATER, by="coach")
    stands = current(store, "drill_entry").to_dicts()
    assert len(stands) == 1 and stands[0]["lesson_id"] == "007"
    assert stands[0]["starts_at"] == TEN and stands[0]["ends_at"] == LATER and stands[0]["corrects"] == first
    assert history(store, "drill_entry").height == 2


def test_an_entry_says_who_entered_it_and_when_in_utc(store: Store) -> None:
    entry_id = begun(store, by=" coach Ada ")
    entry = current(store, "drill_entry").row(0, named=True)
    assert str(uuid.UUID(entry["entry_id"])) == entry_id and entry["entered_by"] == "coach Ada"
    assert abs(entry["entered_at"] - datetime.now(UTC).replace(tzinfo=None)) < timedelta(seconds=30)


def test_a_correction_leaves_the_old_entry_as_it_was(store: Store) -> None:
    first = begun(store)
    before = history(store, "drill_entry").row(0)
    correct(store, "drill_entry", first, "coach", drill_id="D2")
    assert history(store, "drill_entry").row(0) == before
    assert current(store, "drill_entry")["drill_id"].to_list() == ["D2"]


def test_corrections_of_different_values_both_hold_and_of_one_value_the_later(store: Store) -> None:
    first = begun(store)
    correct(store, "drill_entry", first, "coach", drill_id="D2")
    correct(store, "drill_entry", first, "student", chosen_by="student")
    third = correct(store, "drill_entry", first, "coach", drill_id="D3")
    entry = current(store, "drill_entry").row(0, named=True)
    assert entry["drill_id"] == "D3" and entry["chosen_by"] == "student" and entry["entry_id"] == third


def test_a_withdrawn_entry_stands_no_longer_until_it_is_corrected_again(store: Store) -> None:
    first = begun(store)
    withdraw(store, "drill_entry", first, "coach")
    assert current(store, "drill_entry").is_empty() and history(store, "drill_entry").height == 2
    with pytest.raises(NotebookRefused, match="taken back"):
        actions.end_drill(store, first, ends_at=LATER, by="coach")
    correct(store, "drill_entry", first, "coach")
    assert current(store, "drill_entry").height == 1


def test_a_drill_is_ended_by_the_id_it_had_before_a_correction(store: Store) -> None:
    first = begun(store)
    second = correct(store, "drill_entry", first, "coach", drill_id="D2")
    correct(store, "drill_entry", second, "coach", chosen_by="draw")
    actions.end_drill(store, second, ends_at=LATER, by="coach")
    entry = current(store, "drill_entry").row(0, named=True)
    assert (entry["drill_id"], entry["chosen_by"], entry["ends_at"]) == ("D2", "draw", LATER)


def test_the_database_refuses_a_change_in_place(store: Store) -> None:
    begun(store)
    for change in ("update drill_entry set drill_id = 'D9'", "delete from drill_entry"):
        with pytest.raises(DatabaseError, match="never changed"), store.engine.begin() as connection:
            connection.execute(text(change))
    assert current(store, "drill_entry")["drill_id"].to_list() == ["D1"]


def test_an_entry_sent_twice_by_a_device_is_kept_once(store: Store) -> None:
    entry_id = str(uuid.uuid4())
    assert begun(store, entry_id=entry_id) == begun(store, entry_id=entry_id) == entry_id
    assert history(store, "drill_entry").height == 1


def test_every_kind_of_entry_comes_back_as_entered(store: Store) -> None:
    actions.mark(store, bay_id="B1", kind="coach hitting", starts_at=TEN, ends_at=LATER, by="coach")
    actions.mark(store, bay_id="B1", kind="moved to bay", starts_at=TEN, moved_to_bay_id="B2", by="coach")
    actions.record_stop(store, student_id="S1", drill_id="D1", kind="pain", at=TEN, by="coach")
    actions.observe(store, student_id="S1", observed_at=TEN, measure="stance width", value=44, by="c", coach_id="C1")
    actions.set_goal(store, student_id="S1", words="Hit up on it", metric="attack_angle", club_group="driver",
                     target=3, by_date=date(2024, 9, 1), by="coach")  # fmt: skip
    actions.record_use(store, who="analyst", what="sql", detail="select 1")
    assert current(store, "set_aside")["kind"].to_list() == ["coach hitting", "moved to bay"]
    assert current(store, "stop_entry").row(0, named=True)["kind"] == "pain"
    observed = current(store, "observation").row(0, named=True)
    assert (observed["value"], observed["unit"], observed["coach_id"]) == (44.0, "cm", "C1")
    goal = current(store, "goal").row(0, named=True)
    assert (goal["words"], goal["target"], goal["by_date"]) == ("Hit up on it", 3.0, date(2024, 9, 1))
    assert current(store, "usage").row(0, named=True)["detail"] == "select 1"


def test_a_marked_stretch_left_open_is_ended_later(store: Store) -> None:
    first = actions.mark(store, bay_id="B1", kind="not full swings", starts_at=TEN, by="coach")
    actions.end_mark(store, first, ends_at=LATER, by="coach")
    assert current(store, "set_aside")["ends_at"].to_list() == [LATER]


def test_a_hold_is_in_force_until_its_day_and_has_no_place_for_a_diagnosis(store: Store) -> None:
    actions.hold(store, student_id="S1", drill_id="D1", until=date(2024, 6, 1), by="coach")
    actions.hold(store, student_id="S1", aim_metric="club_speed", until=date(2024, 5, 7), by="coach")
    assert actions.holds_on(store, date(2024, 5, 6)).height == 2
    assert actions.holds_on(store, date(2024, 5, 31))["drill_id"].to_list() == ["D1"]
    assert actions.holds_on(store, date(2024, 6, 1)).is_empty()
    own = set(current(store, "hold").columns) - {"entry_id", "first_entry_id", "corrects", "entered_at", "entered_by"}
    assert own == {"student_id", "drill_id", "aim_metric", "until"}


MISTAKES = {
    "whose drill": lambda store: begun(store, lesson_id=None, student_id="S1"),
    "choose one": lambda store: begun(store, drill_id=" "),
    "give a role": lambda store: begun(store, by=" "),
    "before it began": lambda store: begun(store, ends_at=TEN),
    "without a zone": lambda store: begun(store, starts_at=TEN.replace(tzinfo=UTC)),
    "not a chosen by": lambda store: begun(store, chosen_by="nobody"),
    "not a kind": lambda store: actions.mark(store, bay_id="B1", kind="lunch", starts_at=TEN, by="c"),
    "names the bay": lambda store: actions.mark(store, bay_id="B1", kind="moved to bay", starts_at=TEN, by="c"),
    "between 0 and 150 cm": lambda store: actions.observe(
        store, student_id="S1", observed_at=TEN, measure="stance width", value=1500, by="c"),
    "not a measure": lambda store: actions.observe(
        store, student_id="S1", observed_at=TEN, measure="mood", value=1, by="c"),
    "between -15 and 15 deg": lambda store: actions.set_goal(
        store, student_id="S1", words="x", metric="attack_angle", club_group="driver", target=300, by="c"),
    "give one of the two": lambda store: actions.hold(store, student_id="S1", until=date(2024, 6, 1), by="c"),
    "no entry": lambda store: correct(store, "drill_entry", str(uuid.uuid4()), "c", drill_id="D2"),
    "no entry_id in": lambda store: correct(store, "drill_entry", begun(store), "c", entry_id="x"),
    "not a use": lambda store: actions.record_use(store, who="a", what="peek", detail=""),
}  # fmt: skip


@pytest.mark.parametrize("said", MISTAKES)
def test_a_mistake_is_answered_with_one_sentence_and_nothing_wrong_is_kept(store: Store, said: str) -> None:
    with pytest.raises(NotebookRefused, match=said) as refusal:
        MISTAKES[said](store)
    assert str(refusal.value).endswith(".") and "\n" not in str(refusal.value)
    kept = sum(history(store, name).height for name in ("drill_entry", "set_aside", "observation", "goal", "hold"))
    assert kept == (1 if said == "no entry_id in" else 0)  # there the drill itself was entered rightly


def test_text_of_any_kind_is_kept_to_the_letter(store: Store) -> None:
    words = '\'; drop table goal; -- \u202e é 漢字 "quoted" =1+1'
    actions.set_goal(store, student_id="0'1", words=words, metric="carry", club_group="any", target=180, by="coach")
    assert current(store, "goal").row(0, named=True)["words"] == words


def test_the_list_of_measures_is_data_and_an_academy_adds_its_own(tmp_path: Path, store: Store) -> None:
    own = tmp_path / "measures.csv"
    own.write_text("measure,unit,description,low,high\nknee bend,deg,By eye.,0,60\nstance width,cm,Wider.,0,200\n")
    listed = measures(own)
    assert listed.filter(pl.col("measure") == "stance width")["high"].to_list() == [200.0]
    assert measures().height == 6 and listed.height == 7 and (listed["low"] < listed["high"]).all()
    actions.observe(store, student_id="S1", observed_at=TEN, measure="knee bend", value=25, by="c", own_measures=own)
    assert current(store, "observation")["unit"].to_list() == ["deg"]


def test_a_failed_insert_that_is_no_repetition_is_not_swallowed(store: Store) -> None:
    with pytest.raises(DatabaseError):
        enter(store, "drill_entry", "coach", {"drill_id": None, "starts_at": TEN, "placed_afterwards": False})


def test_a_drill_that_ended_keeps_its_end_when_another_tablet_ends_it_too(store: Store) -> None:
    first = begun(store)
    ended = actions.end_drill(store, first, ends_at=LATER, by="coach")
    again = actions.end_drill(store, first, ends_at=LATER + timedelta(minutes=1), by="coach")
    assert again == ended
    assert current(store, "drill_entry")["ends_at"].to_list() == [LATER]
