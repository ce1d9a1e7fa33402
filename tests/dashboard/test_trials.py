"""The page of trials in each of its states: none, planned, running, finished; what to try next; a plan that begins."""

from __future__ import annotations

import html
import re
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import made_trials
import pytest
from made_notebook import all_entries, enter, opened, tap, text_of, widget
from made_tables import student_id
from made_trials import BEGUN, TODAY

from dashboard.shell import access
from dashboard.shell.home_view import Home
from dashboard.shell.page_context import Reading
from dashboard.text import access as words_access
from dashboard.text import trials as words
from dashboard.trials import listing, report_html
from dashboard.trials import result as trial_result
from warehouse.notebook import actions
from warehouse.trials import book

pytestmark = pytest.mark.usefixtures("at_ten")

NAME = r"Rod or \<tee\>, \*which\*?"


def as_role(monkeypatch: pytest.MonkeyPatch, role: str) -> None:
    """Let another role read."""
    monkeypatch.setattr(access, "HERE", access.Person(words_access.HERE, role))


@pytest.fixture
def finished(here: Path) -> Path:
    """Return a home with a finished trial of 20 students, two of whom more said no."""
    plan = made_trials.begun(here)
    lots = made_trials.entered(here, plan, range(20))
    made_trials.declined(here, plan, student_id(21), "Has <b>no</b> time for Given3.")
    made_trials.done_as_drawn(here, lots)
    made_trials.ended(here, plan)
    return here


def test_without_trials_the_page_says_what_to_do(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(here, "trials", monkeypatch)
    assert not app.exception
    assert words.QUESTIONS["trials"] in text_of(app)
    assert words.NONE_YET in text_of(app)


def test_an_empty_file_says_what_to_do_in_every_part(empty_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for show, said in (("trials", words.NONE_YET), ("next", words.NEXT_EMPTY), ("plan", words.NO_AIMS)):
        app = opened(empty_home, "trials", monkeypatch, show=show)
        assert not app.exception
        assert said in text_of(app)


def test_a_planned_trial_says_from_when_on_students_can_be_entered(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made_trials.begun(here, on=TODAY + timedelta(days=20))
    app = opened(here, "trials", monkeypatch)
    assert not app.exception
    text = text_of(app)
    assert "1 drill trial is planned." in text
    assert words.NOT_BEGUN.format(day="4 May 2031") in text
    assert "Rod behind the ball against High tee" in text
    assert app.header[0].value == NAME


def test_a_running_trial_is_followed_without_any_outcome_by_group(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = made_trials.begun(here)
    made_trials.done_as_drawn(here, made_trials.entered(here, plan, range(9)))
    app = opened(here, "trials", monkeypatch)
    assert not app.exception
    text = text_of(app)
    assert "9 of 24 students entered; at this pace full in" in text
    assert "Week of 10 March 2031: 9 entered, 9 in all; an even pace would be 4." in text
    assert "Of 9 lots drawn, 9 are done as drawn, 0 with something else, 0 not yet" in text
    assert "Rod behind the ball: Stopped in 0 of" in text
    assert "better than" not in text
    assert "95%" not in text


def test_a_coach_sees_no_counts_by_group_and_no_button(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = made_trials.begun(here)
    made_trials.entered(here, plan, range(9))
    as_role(monkeypatch, "coach")
    app = opened(here, "trials", monkeypatch)
    assert not app.exception
    assert words.ASSIGNED_HELP in text_of(app)
    assert not [one for one in app.button if one.label in (words.LOOK, words.END, words.STOP_FOR_HARM)]
    assert words.ONLY_DIRECTOR in text_of(app)
    assert not [frame for frame in app.dataframe if "drawn" in frame.value.columns]
    assert words.LOTS_DOWNLOAD not in [one.label for one in app.get("download_button")]


@pytest.mark.parametrize("role", ["coach", "analyst"])
def test_a_plan_is_not_open_to_who_does_not_plan(role: str, here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    as_role(monkeypatch, role)
    app = opened(here, "trials", monkeypatch, show="plan")
    assert not app.exception
    assert not [one for one in app.button if one.label == words.BEGIN]
    assert words.NONE_YET_READER in text_of(app)


def test_pain_stands_first_and_the_director_can_stop_at_once(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = made_trials.begun(here)
    made_trials.entered(here, plan, range(9))
    enter(here, actions.record_stop, student_id="S001", drill_id="R1", kind="pain", at=datetime(2031, 4, 1, 10))
    app = opened(here, "trials", monkeypatch)
    assert app.warning[0].value.startswith("Rod behind the ball: Stopped for pain once")
    button = next(one for one in app.button if str(one.key) == "harm-first-T1")
    assert button.disabled
    app = widget(app.get("button_group"), "harm-kind-first").set_value("pain").run()
    widget(app.text_input, "harm-words-first").set_value("*Wrist* of Given3").run()
    app = next(one for one in app.button if str(one.key) == "harm-first-T1").click().run()
    assert not app.exception
    assert words.HONEST in text_of(app)
    assert all_entries(here, "trial")["ended_on"].to_list() == [None, TODAY]
    said = words.STOPPED_FOR_HARM.format(day="14 April 2031", kind="pain")
    assert rf"{said} “\*Wrist\* of Given3”" in text_of(app)
    as_role(monkeypatch, "analyst")
    told = text_of(opened(here, "trials", monkeypatch))
    assert said in told and "Given3" not in told


def test_a_look_is_kept_and_shows_what_it_decided_not_the_difference(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = made_trials.begun(here, students=30)
    made_trials.done_as_drawn(here, made_trials.entered(here, plan, range(20)))
    app = tap(opened(here, "trials", monkeypatch), words.LOOK)
    assert not app.exception
    kept = all_entries(here, "trial_look").row(0, named=True)
    assert kept["decision"] == "stop: difference found"
    text = text_of(app)
    assert words.DECISIONS["stop: difference found"] in text
    assert not [word for word in ("better than", "worse than", "95%", "Verdict") if word in text]
    tap(app, words.LOOK)
    assert all_entries(here, "trial_look")["decision"].to_list()[-1] == "too early to look"


def test_a_trial_ends_only_once_the_director_means_it(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    made_trials.begun(here)
    app = opened(here, "trials", monkeypatch)
    button = next(one for one in app.button if one.label == words.END)
    assert button.disabled
    widget(app.checkbox, "sure-").set_value(True).run()
    tap(app, words.END)
    assert all_entries(here, "trial")["ended_on"].to_list()[-1] == TODAY


def test_a_crossover_is_followed_by_turns_and_read_within_students(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plan = made_trials.begun(here, kind="crossover")
    made_trials.done_as_drawn(here, made_trials.entered(here, plan, range(12)))
    app = opened(here, "trials", monkeypatch)
    assert not app.exception
    assert "Of 24 turns drawn, 24 are done as drawn" in text_of(app)
    assert "12 students measured so far" in text_of(app)
    made_trials.ended(here, plan)
    app = opened(here, "trials", monkeypatch)
    assert not app.exception
    assert re.search(r"\*\*High tee\*\* did 1\.\d° better than Rod behind the ball", text_of(app))


def test_a_notebook_that_cannot_be_read_is_said(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (here / "notebook.sqlite").write_text("not a notebook", encoding="ascii")
    app = opened(here, "trials", monkeypatch)
    assert not app.exception
    assert words.NOTEBOOK_UNREADABLE in app.error[0].value


def flow_of(app: Any) -> Any:
    """Return the table of the flow."""
    return next(frame.value for frame in app.dataframe if "step" in frame.value.columns and "what" in frame.value)


def test_a_finished_trial_reads_as_found_with_its_flow(finished: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(finished, "trials", monkeypatch)
    assert not app.exception
    text = text_of(app)
    said = re.search(r"\*\*High tee\*\* did (\S+)° better than Rod behind the ball \(\+\1°; 95% (\S+) to (\S+)\)", text)
    assert said is not None
    # Lots differ from run to run; five standard errors of noise .3 with ten students a group leave .7 either side.
    assert abs(float(said[1]) - made_trials.BETTER_BY) < 0.7
    assert 0 < float(said[2]) < float(said[1]) < float(said[3])
    assert re.search(r"Verdict of this trial: \*\*(works|helps)", text)
    assert "certainty (drills drawn by lot" in text
    flow = flow_of(app)
    assert list(dict.fromkeys(flow["step"])) == [
        "Asked", "Not drawn", "Drawn", "Done", "Measured", "Counted in the result",
    ]  # fmt: skip
    assert flow.iloc[0]["everybody"] == "21"
    assert r"Has \<b\>no\</b\> time for Given3: 1 student" in text
    drawn = flow[flow["step"] == "Drawn"].iloc[0]
    assert int(drawn["Rod behind the ball"]) + int(drawn["High tee"]) == int(drawn["everybody"]) == 20
    assert words.HONEST in text
    labels = [one.label for one in app.get("download_button")]
    assert {words.REPORT_DOWNLOAD, words.RESULT_DOWNLOAD, words.FLOW_DOWNLOAD, words.ROWS_DOWNLOAD} <= set(labels)


def test_an_analyst_reads_no_reason_and_no_name(finished: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    as_role(monkeypatch, "analyst")
    app = opened(finished, "trials", monkeypatch)
    assert not app.exception
    flow = flow_of(app)
    refused = flow[flow["step"] == "Not drawn"].iloc[0]
    assert (refused["what"], refused["everybody"]) == ("", "1")
    assert "Given" not in text_of(app) + "".join(frame.value.to_string() for frame in app.dataframe)


def reading(home: Path) -> Reading:
    """Return a reading of a home, outside a page."""
    published = str((home / "published" / "current.duckdb").resolve())
    return Reading(Home(home, published, {}, "imperial"), published)


def test_the_report_is_escaped_and_goes_in_the_order_of_the_flow(
    finished: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    state: dict[str, Any] = {access.KEPT: access.HERE}
    monkeypatch.setattr("streamlit.session_state", state)
    read = reading(finished)
    trial = listing.trials(read, TODAY)[0]
    found = trial_result.read_trial(read, trial)
    names, shown = listing.drill_names(read), listing.shown_of(read, trial.plan)
    page = report_html.render(trial_result.report(read, trial, found, names, shown))
    assert "<tee>" not in page
    assert "<h1>Rod or &lt;tee&gt;, *which*?</h1>" in page
    assert "Has &lt;b&gt;no&lt;/b&gt; time for Given3: 1 student" in page
    order = [page.index(html.escape(one)) for one in ("Asked", "Drawn", "Measured", "did 1.", "randomisation test")
             if one in page]  # fmt: skip
    assert order == sorted(order)
    assert "<svg" in page
    assert trial.row["commitment"] in page
    assert not re.search(r"\bS0\d\d\b", page)


def test_what_to_try_next_ranks_pairs_by_name_and_says_why_others_are_not_drawn(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = opened(here, "trials", monkeypatch, show="next")
    assert not app.exception
    text = text_of(app)
    assert "would change most decisions" in text
    assert "**Heavy club** against" in text
    assert "one of the two goes the wrong way; nobody should be drawn to it" in text
    assert not re.search(r"\bR\d\b", text)


def test_a_drill_that_goes_the_wrong_way_cannot_be_planned(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(here, "trials", monkeypatch, show="plan", number="driver.attack_angle", drills="R1,R3")
    assert not app.exception
    assert words.WRONG_WAY.format(drill="Heavy club") in app.error[0].value
    assert not [one for one in app.button if one.label == words.BEGIN]


def test_a_plan_begins_once_the_drills_are_held_equally_good(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(here, "trials", monkeypatch, show="plan", number="driver.attack_angle", drills="R1,R2")
    assert not app.exception
    text = text_of(app)
    assert "find a difference of 1°, the smallest that matters, four times in five" in text
    assert "**Caution.** Rod behind the ball:" in text
    assert next(one for one in app.button if one.label == words.BEGIN).disabled
    widget(app.checkbox, "plan-even-").set_value(True).run()
    app = tap(app, words.BEGIN)
    assert not app.exception
    row = all_entries(here, "trial").row(0, named=True)
    plan = listing.Plan.of_json(row["plan"])
    assert (plan.treatments, plan.metric, plan.club_group, plan.better) == (("R1", "R2"), "attack_angle", "driver", 1.0)
    assert row["begun_on"] == TODAY
    assert row["commitment"] in app.success[0].value
    secret = (here / "trials" / f"{plan.trial_id}.secret").read_text(encoding="ascii")
    assert secret not in text_of(app)
    assert "1 drill trial runs." in text_of(app)


def test_free_practice_is_what_drills_are_compared_with(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(here, "trials", monkeypatch, show="plan", number="driver.attack_angle", drills="R1,free practice")
    widget(app.checkbox, "plan-even-").set_value(True).run()
    tap(app, words.BEGIN)
    plan = listing.Plan.of_json(all_entries(here, "trial")["plan"][0])
    assert plan.treatments == ("free practice", "R1")
    assert plan.kind == "parallel"


def test_a_trial_begun_before_today_runs_and_one_with_an_end_is_finished() -> None:
    row = {"ended_on": None, "begun_on": BEGUN}
    assert book.state_of(row, TODAY) == "running"
    assert book.state_of(row, BEGUN - timedelta(days=1)) == "planned"
    assert book.state_of(row | {"ended_on": TODAY}, TODAY) == "finished"
