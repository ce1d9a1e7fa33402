"""A trial in the notebook: cautions and agreement before the lot, no lot before entry, any no kept."""

from __future__ import annotations

from datetime import date, datetime
from pathlib import Path
from typing import Any

import made_trials
import pytest
from made_notebook import BAY, STUDENT, all_entries, enter, entries, everything, in_bay, opened, own_home, tap, text_of
from made_notebook import widget as widget_of

from dashboard.notebook import paper_card, store
from dashboard.notebook import trial as notebook_trial
from dashboard.notebook.actions import Place
from dashboard.shell.home_view import read_home
from dashboard.shell.page_context import Reading
from dashboard.text import notebook
from dashboard.text import trials as words
from warehouse.domain.trials import randomisation
from warehouse.notebook import actions
from warehouse.trials import book, secret

pytestmark = pytest.mark.usefixtures("at_ten")

AGREE = words.AGREES["student"]
NAMES = {"R1": "Rod behind the ball", "R2": "High tee", "free practice": "free practice"}


@pytest.fixture
def here(home: Path, tmp_path: Path) -> Path:
    """Return a made home of its own with a running trial."""
    own = own_home(home, tmp_path)
    made_trials.begun(own)
    return own


def lot_of(here: Path) -> str:
    """Return the one lot drawn."""
    return str(all_entries(here, "trial_lot").row(0, named=True)["arm"])


def drawn_in(here: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """Open the notebook, let the student agree, enter and draw."""
    return tap(tap(in_bay(here, monkeypatch), AGREE), words.ENTER_AND_DRAW)


def test_cautions_and_what_is_unknown_stand_before_the_agreement(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = in_bay(here, monkeypatch)
    assert not app.exception
    text = text_of(app)
    assert words.EQUAL.format(drills="Rod behind the ball and High tee") in text
    assert "**Caution.** Rod behind the ball:" in text
    assert "**Caution.** High tee:" in text
    labels = [one.label for one in app.button]
    assert AGREE in labels
    assert words.ENTER_AND_DRAW not in labels


def test_before_entry_no_lot_exists_on_the_page_or_anywhere(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def drawn(*_: Any) -> None:
        raise AssertionError("a lot was drawn before anybody was entered")

    with monkeypatch.context() as never:
        never.setattr(randomisation, "draw", drawn)
        never.setattr(secret, "read", drawn)
        app = tap(in_bay(here, monkeypatch), AGREE)
        assert not app.exception
        page = everything(app)
    assert words.ENTER_AND_DRAW in page
    assert "Drawn by lot:" not in page
    assert "as drawn" not in page
    assert (here / "trials" / "T1.secret").read_text(encoding="ascii") not in page
    assert all_entries(here, "trial_lot").is_empty()


def test_one_tap_enters_and_draws_and_the_page_shows_that_lot_only(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = drawn_in(here, monkeypatch)
    assert not app.exception
    lots = all_entries(here, "trial_lot")
    assert lots.height == 1
    text = text_of(app)
    assert text.count("Drawn by lot: **") == 1
    assert f"Drawn by lot: **{NAMES[lot_of(here)]}**." in text
    participant = all_entries(here, "trial_participant").row(0, named=True)
    assert (participant["student_id"], participant["entered_on"]) == (STUDENT, date(2031, 4, 14))


def test_another_students_page_shows_nothing_of_a_lot_drawn(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn_in(here, monkeypatch)
    app = opened(here, "notebook", monkeypatch, bay=BAY, student="S006")
    assert "Drawn by lot:" not in everything(app)


def test_the_drill_begun_from_a_lot_is_marked_as_drawn(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = drawn_in(here, monkeypatch)
    name = NAMES[lot_of(here)]
    app = tap(app, words.BEGIN_DRAWN.format(drill=name))
    row = entries(here, "drill_entry").row(0, named=True)
    assert (row["drill_id"], row["chosen_by"], row["student_id"]) == (lot_of(here), "draw", STUDENT)
    monkeypatch.setattr(store, "now", lambda timezone: datetime(2031, 4, 14, 10, 20))
    app = tap(app, notebook.ENDS.format(drill=name))
    assert words.DONE_AS_DRAWN in text_of(app)
    assert "chosen by: drawn by lot" in text_of(app)


def test_the_card_says_what_was_drawn_with_its_caution(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn_in(here, monkeypatch)
    home = read_home(here)
    place = Place(home, BAY, "Europe/Berlin", STUDENT)
    name = NAMES[lot_of(here)]
    lot, caution = notebook_trial.told(Reading(home, str(home.published)), place)
    assert lot.endswith(f"Drawn by lot: {name}.")
    assert caution.startswith(f"Caution. {name}: ")


def test_the_card_for_a_tee_without_a_network_holds_the_lot_escaped() -> None:
    card = paper_card.render("S1", BAY, "1.2.2031", [], ["Rod or <tee>: Drawn by lot: Rod."])
    assert "<b>Rod or &lt;tee&gt;: Drawn by lot: Rod.</b>" in card
    assert "Drawn by lot" not in paper_card.render("S1", BAY, "1.2.2031", [])


def test_a_drill_chosen_by_hand_cannot_be_called_drawn(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = in_bay(here, monkeypatch)
    app.pills(key=f"drill-{STUDENT}").set_value("R1").run()
    choice = next(one for one in app.get("button_group") if str(one.key) == f"chosen-{STUDENT}")
    assert list(choice.options) == ["coach", "student"]


def test_a_minor_needs_the_guardian_first_then_the_child(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(here, "notebook", monkeypatch, bay=BAY, student="S000")
    labels = [one.label for one in app.button]
    assert words.AGREES["guardian"] in labels
    assert AGREE not in labels
    assert words.AGREE_MINOR in text_of(app)
    app = tap(app, words.AGREES["guardian"])
    assert words.ENTER_AND_DRAW not in [one.label for one in app.button]
    app = tap(tap(app, AGREE), words.ENTER_AND_DRAW)
    assert not app.exception
    agreed = all_entries(here, "trial_agreement")
    assert agreed["agreed_by"].to_list() == ["guardian", "student"]
    assert agreed["agreed_on"].to_list() == [date(2031, 4, 14)] * 2
    assert all_entries(here, "trial_lot").height == 1


def test_the_same_agreement_tapped_twice_stands_once(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = in_bay(here, monkeypatch)
    again = in_bay(here, monkeypatch)
    tap(app, AGREE)
    tap(again, AGREE)
    assert all_entries(here, "trial_agreement").height == 1


def test_a_student_for_whom_a_drill_is_held_is_not_asked_and_not_drawn(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    enter(here, actions.hold, student_id=STUDENT, until=date(2031, 5, 1), drill_id="R2")
    app = in_bay(here, monkeypatch)
    assert words.HELD.format(drills="High tee") in text_of(app)
    assert not {AGREE, words.ENTER_AND_DRAW} & {one.label for one in app.button}


def test_a_held_aim_holds_the_whole_trial(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    enter(here, actions.hold, student_id=STUDENT, until=date(2031, 5, 1), aim_metric="attack_angle")
    app = in_bay(here, monkeypatch)
    assert words.HELD.format(drills="Rod behind the ball and High tee") in text_of(app)


def test_a_hold_set_after_the_draw_keeps_the_drill_from_being_begun(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    drawn_in(here, monkeypatch)
    enter(here, actions.hold, student_id=STUDENT, until=date(2031, 5, 1), drill_id=lot_of(here))
    app = in_bay(here, monkeypatch)
    name = NAMES[lot_of(here)]
    assert words.HELD_SINCE.format(drill=name) in text_of(app)
    assert words.BEGIN_DRAWN.format(drill=name) not in [one.label for one in app.button]


def test_a_no_is_kept_with_its_reason_and_nothing_is_drawn(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = in_bay(here, monkeypatch)
    widget_of(app.text_input, "reason-T1").set_value("Wants to *play*, not <to> try.").run()
    app = tap(app, words.WRITE_DECLINE)
    assert not app.exception
    row = all_entries(here, "trial_decline").row(0, named=True)
    assert (row["declined_by"], row["reason"], row["instead"]) == ("student", "Wants to *play*, not <to> try.", None)
    assert r"Wants to \*play\*, not \<to\> try." in text_of(app)
    assert all_entries(here, "trial_lot").is_empty()


def test_something_else_done_after_the_draw_is_kept_and_the_lot_stays(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = drawn_in(here, monkeypatch)
    lot = lot_of(here)
    widget_of(app.selectbox, "instead-T1").set_value("R4")
    widget_of(app.text_input, "why-T1").set_value("The rod is broken.").run()
    tap(app, words.WRITE_DECLINE)
    row = all_entries(here, "trial_decline").row(0, named=True)
    assert (row["declined_by"], row["instead"], row["reason"]) == ("coach", "R4", "The rod is broken.")
    assert all_entries(here, "trial_lot")["arm"].to_list() == [lot]


def test_taking_part_ends_with_one_tap_and_nothing_more_is_asked(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = tap(drawn_in(here, monkeypatch), words.WITHDRAW)
    assert not app.exception
    assert entries(here, "trial_agreement").is_empty()
    assert words.WITHDRAWN_NOTE in text_of(app)
    assert not [one for one in app.button if one.label.endswith(", as drawn")]


def test_free_practice_counts_balls_up_to_the_limit_then_it_is_the_coachs_choice(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = own_home(home, tmp_path)
    made_trials.begun(own, treatments=("free practice", "R1"), free_practice_balls=12)
    only_free = randomisation.Lot("e", "s", 0, 0, "free practice")
    monkeypatch.setattr(book.randomisation, "draw", lambda *_: only_free)
    app = drawn_in(own, monkeypatch)
    assert not [one for one in app.button if one.label in (words.BALL, words.FIVE_BALLS)]
    app = tap(app, words.BALLS_BEGIN)
    assert "0 of 12 balls of free practice since 10:05" in text_of(app)
    app = tap(tap(app, words.FIVE_BALLS), words.BALL)
    assert "6 of 12 balls of free practice" in text_of(app)
    # Another tablet, or this one after a reload, goes on where the count is.
    app = in_bay(own, monkeypatch)
    assert "6 of 12 balls of free practice" in text_of(app)
    app = tap(tap(app, words.FIVE_BALLS), words.FIVE_BALLS)
    assert all_entries(own, "trial_balls")["balls"].to_list() == [0, 5, 1, 5, 1]
    assert all_entries(own, "trial_balls").select("student_id", "bay_id").unique().rows() == [(STUDENT, BAY)]
    assert words.COACHS_CHOICE in text_of(app)
    assert not [one for one in app.button if one.label in (words.BALL, words.FIVE_BALLS)]
    assert notebook.CHOOSE_DRILL in text_of(app)
    app = tap(app, words.RESET_BALLS)
    assert words.BALLS_BEGIN in [one.label for one in app.button]
    assert entries(own, "trial_balls").is_empty()


def test_after_pain_nobody_is_drawn_until_the_coach_on_site_has_looked(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    enter(here, actions.record_stop, student_id="S009", drill_id="R1", kind="pain", at=datetime(2031, 4, 13, 9))
    app = tap(in_bay(here, monkeypatch), AGREE)
    assert app.warning[0].value.startswith("Rod behind the ball: Stopped for pain once")
    assert words.ENTER_AND_DRAW not in [one.label for one in app.button]
    app = widget_of(app.checkbox, "looked-T1").set_value(True).run()
    assert words.ENTER_AND_DRAW in [one.label for one in app.button]


def test_a_drill_stopped_too_often_is_drawn_no_more(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for hour in range(8, 18):
        at = datetime(2031, 4, 13, hour)
        enter(here, actions.record_stop, student_id="S009", drill_id="R1", kind="aid struck", at=at)
    app = tap(in_bay(here, monkeypatch), AGREE)
    assert not app.exception
    assert words.DRAWN_NO_MORE in text_of(app)
    assert words.ENTER_AND_DRAW not in [one.label for one in app.button]


def test_an_order_drawn_is_given_one_drill_after_the_other(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = own_home(home, tmp_path)
    made_trials.begun(own, kind="crossover")
    app = drawn_in(own, monkeypatch)
    first, second = lot_of(own).split(" then ")
    assert f"Drawn by lot: **{NAMES[first]}, then {NAMES[second]}**." in text_of(app)
    begins = [one.label for one in app.button if one.label.endswith(", as drawn")]
    assert begins == [words.BEGIN_DRAWN.format(drill=NAMES[first])]
    app = tap(app, begins[0])
    monkeypatch.setattr(store, "now", lambda timezone: datetime(2031, 4, 14, 10, 20))
    app = tap(app, notebook.ENDS.format(drill=NAMES[first]))
    begins = [one.label for one in app.button if one.label.endswith(", as drawn")]
    assert begins == [words.BEGIN_DRAWN.format(drill=NAMES[second])]


def test_no_trial_is_shown_before_its_first_day_or_after_its_end(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = own_home(home, tmp_path)
    made_trials.begun(own, on=date(2031, 5, 1))
    over = made_trials.begun(own, trial_id="T2")
    made_trials.ended(own, over)
    app = in_bay(own, monkeypatch)
    assert not app.exception
    assert AGREE not in [one.label for one in app.button]


def test_a_missing_secret_is_said_and_nothing_is_entered(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (here / "trials" / "T1.secret").unlink()
    app = drawn_in(here, monkeypatch)
    assert not app.exception
    assert "The secret of trial T1 is not in this home" in app.error[0].value
    assert all_entries(here, "trial_participant").is_empty()
