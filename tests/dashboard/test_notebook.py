"""What a coach enters on a tablet lands in the notebook once, is corrected without erasing, and holds are obeyed."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from made_notebook import (
    BAY,
    STUDENT,
    all_entries,
    enter,
    entries,
    in_bay,
    opened,
    tap,
    text_of,
    widget,
)
from sqlalchemy.exc import OperationalError

from dashboard.notebook import actions as notebook_taps
from dashboard.notebook import store
from dashboard.notebook.actions import Place
from dashboard.shell import access
from dashboard.shell.home_view import Home
from dashboard.text import notebook as words
from warehouse.notebook import actions

pytestmark = pytest.mark.usefixtures("at_ten")


@pytest.fixture
def place(here: Path, monkeypatch: pytest.MonkeyPatch) -> Place:
    """Return the bay and student as a tap knows them, outside a page."""
    state: dict[str, Any] = {access.KEPT: access.HERE}
    monkeypatch.setattr("streamlit.session_state", state)
    return Place(Home(here, None, {}, "imperial"), BAY, "UTC", STUDENT)


def begun(here: Path, monkeypatch: pytest.MonkeyPatch, drill: str = "R1") -> Any:
    """Open the notebook and begin a drill."""
    app = in_bay(here, monkeypatch)
    app.pills(key=f"drill-{STUDENT}").set_value(drill).run()
    return tap(app, "Rod behind the ball begins")


def earlier(monkeypatch: pytest.MonkeyPatch, by: timedelta) -> None:
    """Let the clock of the notebook run ahead, as if time had passed."""
    now = store.now
    monkeypatch.setattr(store, "now", lambda timezone: now(timezone) + by)


def test_a_drill_recorded_in_three_taps_lands_in_the_notebook(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(here, "notebook", monkeypatch, bay=BAY)
    number = int(re.findall(r"\d+", app.pills(key="pick-student").options[0])[0])
    student = f"S{number:03d}"
    app.pills(key="pick-student").set_value(student).run()
    app.pills(key=f"drill-{student}").set_value("R1").run()
    tap(app, "Rod behind the ball begins")
    assert not app.exception
    row = entries(here, "drill_entry").row(0, named=True)
    assert (row["student_id"], row["bay_id"], row["drill_id"], row["chosen_by"]) == (student, BAY, "R1", "coach")
    assert row["ends_at"] is None
    assert not row["placed_afterwards"]
    assert f"**Rod behind the ball** runs since {row['starts_at']:%H:%M}." in text_of(app)


def test_the_caution_of_a_drill_stands_before_the_button_that_begins_it(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = in_bay(here, monkeypatch)
    assert not [one for one in app.button if one.label.endswith("begins")]
    app.pills(key=f"drill-{STUDENT}").set_value("R1").run()
    order = [element for element in app.main if hasattr(element, "children")]
    flat = [str(getattr(one, "value", "")) + str(getattr(one, "label", "")) for block in order for one in walk(block)]
    caution = next(at for at, text in enumerate(flat) if "**Caution.**" in text)
    assert caution < next(at for at, text in enumerate(flat) if text.endswith("begins"))


def walk(block: Any) -> list[Any]:
    """Return the elements of a block in their order."""
    children = getattr(block, "children", None)
    return [block] if not children else [one for child in children.values() for one in walk(child)]


def test_a_running_drill_ends_with_one_tap(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = begun(here, monkeypatch)
    earlier(monkeypatch, timedelta(minutes=9))
    tap(app, "Rod behind the ball ends")
    row = entries(here, "drill_entry").row(0, named=True)
    assert timedelta(minutes=8) < row["ends_at"] - row["starts_at"] < timedelta(minutes=10)
    assert "no drill runs" in text_of(app)


def test_a_drill_begun_before_midnight_still_runs_after_it_and_ends_with_one_tap(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    clock = [datetime(2026, 3, 9, 23, 50)]
    monkeypatch.setattr(store, "now", lambda timezone: clock[0])
    app = begun(here, monkeypatch)
    clock[0] = datetime(2026, 3, 10, 0, 10)
    app.run()
    assert "no drill runs" not in text_of(app)
    tap(app, "Rod behind the ball ends")
    assert entries(here, "drill_entry")["ends_at"].to_list() == [clock[0]]
    assert "no drill runs" in text_of(app)


def test_a_running_drill_says_for_how_long_and_a_chosen_one_asks_for_free_balls_first(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = in_bay(here, monkeypatch)
    app.pills(key=f"drill-{STUDENT}").set_value("R1").run()
    assert words.FREE_FIRST.format(balls=5) in text_of(app)
    tap(app, "Rod behind the ball begins")
    assert words.JUST_BEGUN in text_of(app)
    earlier(monkeypatch, timedelta(minutes=4, seconds=30))
    assert "Running for 4 min." in text_of(app.run())


def test_a_second_tap_right_after_the_beginning_does_not_end_the_drill(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = begun(here, monkeypatch)
    monkeypatch.setattr(notebook_taps, "SLIP", timedelta(minutes=1))
    tap(app, "Rod behind the ball ends")
    assert entries(here, "drill_entry")["ends_at"].to_list() == [None]
    assert words.TOO_SOON in app.error[0].value


def test_the_same_tap_sent_twice_is_entered_once(here: Path, place: Place) -> None:
    ticket = place.ticket("begin")
    for _ in range(2):
        notebook_taps.begin(place, ticket, "R1", "coach")
    assert all_entries(here, "drill_entry").height == 1
    assert place.ticket("begin") != ticket


def test_a_rerun_of_the_page_enters_nothing(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = begun(here, monkeypatch)
    app.run()
    app.run()
    assert all_entries(here, "drill_entry").height == 1


def test_a_tap_that_could_not_be_written_says_so_and_is_entered_once_when_tapped_again(
    here: Path, place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    def locked(*_: Any, **__: Any) -> None:
        raise OperationalError("insert", {}, Exception("database is locked"))

    ticket = place.ticket("begin")
    with monkeypatch.context() as broken:
        broken.setattr(actions, "begin_drill", locked)
        notebook_taps.begin(place, ticket, "R1", "coach")
    import streamlit as st

    assert st.session_state[notebook_taps.SAID] == ("refused", words.NOT_WRITTEN)
    assert place.ticket("begin") == ticket
    notebook_taps.begin(place, ticket, "R1", "coach")
    assert all_entries(here, "drill_entry").height == 1


def test_a_drill_begun_on_another_tablet_is_shown_as_running(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    now = store.now("UTC")
    enter(here, actions.begin_drill, drill_id="R2", starts_at=now, student_id=STUDENT, bay_id=BAY)
    assert "**High tee** runs since" in text_of(in_bay(here, monkeypatch))


@pytest.mark.parametrize("kind", words.STOPS)
def test_a_stop_says_why_ends_the_drill_and_points_to_the_student_first(
    kind: str, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = begun(here, monkeypatch)
    tap(app, words.STOPS[kind])
    stop = entries(here, "stop_entry").row(0, named=True)
    assert (stop["student_id"], stop["drill_id"], stop["kind"]) == (STUDENT, "R1", kind)
    assert entries(here, "drill_entry")["ends_at"].null_count() == 0
    assert words.STOPPED in app.warning[0].value
    app.run()
    assert "for the coach on site to decide" in app.warning[0].value


@pytest.mark.parametrize("kind", words.MARKS)
def test_a_stretch_is_marked_with_one_tap_and_ends_with_the_next(
    kind: str, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = tap(in_bay(here, monkeypatch), words.MARKS[kind])
    tap(app, words.MARK_ENDS.format(kind=words.MARKS[kind]))
    row = entries(here, "set_aside").row(0, named=True)
    assert (row["kind"], row["bay_id"], row["student_id"]) == (kind, BAY, STUDENT)
    assert row["ends_at"] > row["starts_at"]


def test_a_move_takes_the_page_to_the_other_bay(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = tap(in_bay(here, monkeypatch), "B02")
    row = entries(here, "set_aside").row(0, named=True)
    assert (row["kind"], row["bay_id"], row["moved_to_bay_id"]) == ("moved to bay", BAY, "B02")
    assert app.query_params["bay"] in ("B02", ["B02"])
    assert "Bay B02, **Given5 Family5**" in text_of(app)


def test_a_correction_stands_beside_what_was_first_entered(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = begun(here, monkeypatch)
    widget(app.selectbox, "mend-drill-").set_value("R2").run()
    tap(app, words.SAVE)
    kept = all_entries(here, "drill_entry")
    assert kept["drill_id"].to_list() == ["R1", "R2"]
    assert kept["corrects"][1] == kept["entry_id"][0]
    assert entries(here, "drill_entry")["drill_id"].to_list() == ["R2"]
    text = text_of(app)
    assert "first entered by this machine" in text
    assert "corrected by this machine" in text


def test_an_entry_taken_back_stays_in_sight_and_can_stand_again(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = tap(begun(here, monkeypatch), words.TAKE_BACK)
    assert entries(here, "drill_entry").is_empty()
    assert f"({words.TAKEN_BACK})" in text_of(app)
    tap(app, words.STAND_AGAIN)
    assert entries(here, "drill_entry")["drill_id"].to_list() == ["R1"]
    assert all_entries(here, "drill_entry").height == 3


def test_a_correction_of_an_entry_corrected_meanwhile_is_not_made(here: Path, place: Place) -> None:
    ticket = place.ticket("begin")
    notebook_taps.begin(place, ticket, "R1", "coach")
    notebook_taps.mend(place, "drill_entry", ticket, {"drill_id": "R2"})
    notebook_taps.mend(place, "drill_entry", ticket, {"drill_id": "R3"})
    assert entries(here, "drill_entry")["drill_id"].to_list() == ["R2"]


def test_entries_of_another_student_are_not_listed(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    now = store.now("UTC")
    enter(here, actions.record_stop, student_id="S001", drill_id="R1", kind="pain", at=now)
    assert words.NOTHING_TODAY in text_of(in_bay(here, monkeypatch))


def test_a_drill_entered_afterwards_is_marked_as_such(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = in_bay(here, monkeypatch)
    assert widget(app.button, "after-").disabled
    now = store.now("UTC")
    widget(app.selectbox, "after-drill-").set_value("R2").run()
    widget(app.time_input, "after-down-").set_value((now.replace(hour=9, minute=5)).time())
    widget(app.time_input, "after-up-").set_value((now.replace(hour=9, minute=15)).time()).run()
    widget(app.button, "after-").click().run()
    row = entries(here, "drill_entry").row(0, named=True)
    assert row["placed_afterwards"]
    assert (row["starts_at"].hour, row["starts_at"].minute) == (9, 5)
    assert row["ends_at"] - row["starts_at"] == timedelta(minutes=10)
    assert "entered afterwards" in text_of(app)


def afterwards(app: Any, down: str, up: str, drill: str = "R2") -> Any:
    """Enter a drill of today that is over, by its two times."""
    widget(app.selectbox, "after-drill-").set_value(drill).run()
    widget(app.time_input, "after-down-").set_value(datetime.strptime(down, "%H:%M").time())
    widget(app.time_input, "after-up-").set_value(datetime.strptime(up, "%H:%M").time()).run()
    return widget(app.button, "after-").click().run()


def test_a_drill_entered_afterwards_can_be_undone_in_the_message_that_says_so(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = afterwards(in_bay(here, monkeypatch), "09:05", "09:15")
    assert "Written: High tee, 14 April 2031, 09:05 to 09:15." in text_of(app)
    tap(app, words.UNDO)
    assert entries(here, "drill_entry").is_empty()
    assert words.UNDONE in text_of(app)
    assert not [one for one in app.button if one.label == words.UNDO]


def test_an_end_that_is_undone_lets_the_drill_run_on(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = begun(here, monkeypatch)
    earlier(monkeypatch, timedelta(minutes=9))
    tap(tap(app, "Rod behind the ball ends"), words.UNDO)
    assert entries(here, "drill_entry")["ends_at"].to_list() == [None]


@pytest.mark.parametrize(("down", "up"), [("09:10", "09:20"), ("09:00", "09:06"), ("09:06", "09:08")])
def test_a_drill_that_meets_another_of_the_student_is_refused_with_the_reason(
    down: str, up: str, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = afterwards(in_bay(here, monkeypatch), "09:05", "09:15")
    afterwards(app, down, up, "R1")
    assert app.error[0].value.startswith("Not entered: High tee is logged for this student on 14 April 2031, 09:05")
    assert entries(here, "drill_entry")["drill_id"].to_list() == ["R2"]
    afterwards(app, "09:15", "09:20", "R1")
    assert entries(here, "drill_entry")["drill_id"].to_list() == ["R2", "R1"]


def test_a_correction_may_not_move_a_drill_onto_another(here: Path, place: Place) -> None:
    nine = place.now().replace(hour=9, minute=0, second=0)
    ids = [
        enter(here, actions.begin_drill, drill_id="R1", starts_at=nine + timedelta(minutes=at),
              ends_at=nine + timedelta(minutes=at + 5), student_id=STUDENT, bay_id=BAY)
        for at in (0, 10)
    ]  # fmt: skip
    changes = {"starts_at": nine + timedelta(minutes=4), "ends_at": nine + timedelta(minutes=15)}
    notebook_taps.mend(place, "drill_entry", ids[1], changes)
    assert entries(here, "drill_entry")["starts_at"].max() == nine + timedelta(minutes=10)
    notebook_taps.mend(place, "drill_entry", ids[1], changes | {"starts_at": nine + timedelta(minutes=5)})
    assert entries(here, "drill_entry")["starts_at"].max() == nine + timedelta(minutes=5)


def test_entries_of_another_day_are_listed_and_corrected(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    at = store.now("UTC") - timedelta(days=9)
    enter(here, actions.begin_drill, drill_id="R1", starts_at=at, ends_at=at + timedelta(minutes=5),
          student_id=STUDENT, bay_id=BAY)  # fmt: skip
    app = in_bay(here, monkeypatch)
    widget(app.selectbox, "entries-of-").set_value(at.date()).run()
    widget(app.selectbox, "mend-drill-").set_value("R2").run()
    tap(app, words.SAVE)
    assert entries(here, "drill_entry")["drill_id"].to_list() == ["R2"]


def test_a_goal_is_kept_in_the_canonical_unit_and_shown_as_typed(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = in_bay(here, monkeypatch)
    widget(app.text_area, "goal-words-").set_value("Swing *fast*, see https://example.org").run()
    widget(app.selectbox, "goal-number-").set_value("driver.club_speed").run()
    widget(app.number_input, "goal-target-").set_value(100.0).run()
    widget(app.button, "goal-").click().run()
    row = entries(here, "goal").row(0, named=True)
    assert row["target"] == pytest.approx(44.704)  # 1 mph = 0.44704 m/s exactly (international mile, 1959)
    assert row["words"] == "Swing *fast*, see https://example.org"
    assert "Swing \\*fast\\*, see https\\:\u2060//example.org" in text_of(app)


def test_what_was_seen_is_kept_with_its_unit(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = in_bay(here, monkeypatch)
    widget(app.pills, "seen-measure-").set_value("stance width").run()
    widget(app.number_input, "seen-value-").set_value(52.0).run()
    widget(app.button, "seen-").click().run()
    row = entries(here, "observation").row(0, named=True)
    assert (row["measure"], row["value"], row["unit"]) == ("stance width", 52.0, "cm")


def test_the_card_gives_each_drill_a_caution_and_shows_names_as_typed() -> None:
    from dashboard.notebook import paper_card

    rows = [{"name": "Rod <behind>", "setup": None, "caution": None}]
    card = paper_card.render("Given5 Family5", BAY, "1.2.2031", rows)
    assert "Rod &lt;behind&gt;" in card
    assert words.ALWAYS in card
    assert card.count("<tr>") == paper_card.LINES + 1


def test_the_page_says_what_to_do_where_nothing_is_known(empty_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(empty_home, "notebook", monkeypatch)
    assert not app.exception
    assert "Fill in sites.csv and bays.csv" in text_of(app)
    assert not (empty_home / "notebook.sqlite").exists()


def test_reading_pages_make_no_notebook(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened(here, "students", monkeypatch, student=STUDENT)
    assert not (here / "notebook.sqlite").exists()


def test_entries_of_one_day_are_read_as_they_stand(here: Path, place: Place) -> None:
    day = place.now().date()
    enter(
        here, actions.begin_drill, drill_id="R1", starts_at=place.now() - timedelta(days=1), student_id=STUDENT,
        bay_id=BAY,
    )  # fmt: skip
    notebook_taps.begin(place, place.ticket("begin"), "R2", "student")
    rows = store.on_day(place.store, "drill_entry", day, student_id=STUDENT)
    assert rows["drill_id"].to_list() == ["R2"]
