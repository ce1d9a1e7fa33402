"""Each page opens on a made file, an empty file and an empty home, and keeps its choices in the address."""

from __future__ import annotations

import ast
import json
import tomllib
from pathlib import Path

import duckdb
import pytest
from made_notebook import entries, own_home, tap
from streamlit.testing.v1 import AppTest

from dashboard.shell import access, navigation
from dashboard.text import attention, notebook, words
from tests.clock import PATIENCE

APP = Path(__file__).parents[2] / "dashboard" / "streamlit_app.py"
ANSWERS = {
    "week": "Of 6 comparisons (a cohort and a goal number)",
    "cohorts": "Spring: driver attack angle",
    "drills": "**Rod behind the ball** is best supported: driver attack angle rose 1.4° beyond free practice",
    "drill": "Driver attack angle rose 1.4° beyond free practice (95% 0.9 to 1.9), 18 students, moderate certainty.",
    "students": "usual day-to-day difference",
    "bays": "4 of 6 bays that should have reported did. Silent: B02. Refused: B03 (its compression ends early). "
    "Late: B04.",
    "sql": words.SQL_HELP,
    "help": words.HOW_TO_READ[0],
}
ADDRESS = {"drill": {"drill": "R1"}, "students": {"student": "S005"}}
EMPTY = {
    "week": words.EMPTY["cohort_change"],
    "cohorts": words.EMPTY["cohort_change"],
    "drills": words.EMPTY["drills"],
    "drill": words.EMPTY["drills"],
    "students": words.EMPTY["students"],
    "bays": words.EMPTY["bays"],
    "sql": words.SQL_HELP,
    "help": words.HOW_TO_READ[0],
}


def opened(home: Path, page: str, monkeypatch: pytest.MonkeyPatch, **parameters: str) -> AppTest:
    """Open a page of a home with parameters in its address."""
    monkeypatch.setenv("ACADEMY_HOME", str(home))
    app = AppTest.from_file(str(APP), default_timeout=PATIENCE).run()
    app.switch_page(f"app_pages/{page}.py")
    for key, value in parameters.items():
        app.query_params[key] = value
    return app.run()


def text_of(app: AppTest) -> str:
    """Return all text of a page."""
    parts = [app.title, app.header, app.subheader, app.markdown, app.caption, app.warning, app.error]
    return "\n".join(str(element.value) for kind in parts for element in kind)


@pytest.mark.parametrize("page", ANSWERS)
def test_a_page_answers_its_question_and_says_through_which_night(
    page: str, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = opened(home, page, monkeypatch, **ADDRESS.get(page, {}))
    assert not app.exception
    text = text_of(app)
    assert words.QUESTIONS[page] in text
    assert ANSWERS[page] in text
    assert "Through the night of 13 April 2031; published 14 April 2031 03:12 UTC" in text


@pytest.mark.parametrize("page", EMPTY)
def test_a_page_without_rows_says_what_to_do(page: str, empty_home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(empty_home, page, monkeypatch)
    assert not app.exception
    assert EMPTY[page] in text_of(app)


def test_a_home_without_a_published_file_says_which_command_to_run(
    bare_home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = opened(bare_home, "drills", monkeypatch)
    assert not app.exception
    assert f"academy nightly --home {bare_home}" in text_of(app)


@pytest.mark.parametrize("page", ["week", "sql"])
def test_a_failed_last_run_is_said_on_a_page(
    page: str, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own_home(home, tmp_path)
    word = {
        "finished_at": "2031-04-15T03:10:00Z",
        "outcome": "not published",
        "message": "core.shot: 3 rows outside limits",
    }
    (tmp_path / "home" / "published" / "last_run.json").write_text(json.dumps(word), encoding="utf-8")
    app = opened(tmp_path / "home", page, monkeypatch)
    assert "The last run did not publish (core.shot: 3 rows outside limits)" in app.warning[0].value


def test_a_file_of_another_version_says_to_rebuild(home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own_home(home, tmp_path)
    with duckdb.connect(str(tmp_path / "home" / "published" / "current.duckdb")) as file:
        file.execute("drop table mart.student_change")
    app = opened(tmp_path / "home", "students", monkeypatch, student="S005")
    assert not app.exception
    assert "--rebuild" in app.error[0].value


def test_a_page_says_how_all_students_changed_beyond_practice_alone(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = text_of(opened(home, "week", monkeypatch))
    assert "All students this term: driver attack angle rose" in text
    assert "beyond their own noise" in text
    assert "by more than day-to-day differences explain, two weeks running: 2 students (luck alone" in text


def test_the_week_shows_cohorts_of_today_and_the_list_says_which_have_ended(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with duckdb.connect((here / "published" / "current.duckdb").resolve()) as file:
        file.execute("update mart.cohort_change set present = cohort <> 'Spring'")
    text = text_of(opened(here, "week", monkeypatch))
    assert "Summer" in text
    assert "Spring:" not in text
    listed = opened(here, "cohorts", monkeypatch).selectbox(key="choice-cohort")
    assert listed.options == ["Summer", "all students", "Spring (ended)"]


def test_a_term_too_young_for_its_own_start_is_held_against_the_last_one(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with duckdb.connect((here / "published" / "current.duckdb").resolve()) as file:
        file.execute("update mart.cohort_change set window_pair = 'last_term' where window_pair = 'term'")
    assert "All students against the same weeks of last term: " in text_of(opened(here, "week", monkeypatch))


def test_the_week_page_has_an_address_of_its_own_too(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[dict[str, object]] = []
    monkeypatch.setattr(navigation.st, "Page", lambda path, **given: made.append({"path": path, **given}))
    navigation.pages(access.HERE)
    week = [page for page in made if page["path"] == "app_pages/week.py"]
    assert [(page["url_path"], page.get("default"), page.get("visibility")) for page in week] == [
        (navigation.ROOT, True, None), ("week", None, "hidden"),
    ]  # fmt: skip


def test_drills_say_what_changes_of_set_up_went_with_and_that_it_is_no_cause(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = text_of(opened(home, "drills", monkeypatch, number="driver.attack_angle"))
    assert (
        "Of 2 observations with enough pairs, changes of ball forward of body centre (driver) went with changes of "
        "driver attack angle." in text
    )
    assert attention.SETUP_NOTE in text


def test_a_number_without_observations_says_how_to_get_them(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert attention.SETUP_EMPTY in text_of(opened(home, "drills", monkeypatch, number="any.club_path"))


def test_a_student_compared_across_an_event_is_told_since_when(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    text = text_of(opened(home, "students", monkeypatch, student="S001", number="driver.attack_angle"))
    assert "before 13 March 2031 not compared with what came after: club changed." in text


def test_the_address_chooses_student_and_number(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(home, "students", monkeypatch, student="S003", number="iron.club_path")
    assert app.selectbox(key="choice-student").value == "S003"
    assert "Club path with irons is now" in text_of(app)


def test_a_choice_is_written_into_the_address(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(home, "drill", monkeypatch)
    assert "drill" not in app.query_params
    app.selectbox(key="choice-drill").set_value("R1").run()
    assert app.query_params["drill"] in ("R1", ["R1"])
    app.selectbox(key="choice-drill").set_value("R3").run()
    assert "Wrong way" in app.warning[0].value


def test_drills_with_another_aim_are_shown_when_switched_on(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(home, "drills", monkeypatch, number="any.club_path")
    assert not app.toggle(key="switch-others").value
    app.toggle(key="switch-others").set_value(True).run()
    assert not app.exception
    assert app.query_params["others"] in ("yes", ["yes"])


def test_an_address_that_names_nobody_shows_nobody(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(home, "students", monkeypatch, student="nobody")
    assert not app.exception
    assert app.selectbox(key="choice-student").value is None
    assert app.info[0].value == words.NOT_HERE.format(what="student", value="nobody")


def test_a_student_without_consent_is_shown_by_id(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(home, "students", monkeypatch)
    names = app.selectbox(key="choice-student").options
    assert "S023" in names
    assert "Given3 Family3" in names


def test_a_student_page_puts_the_caution_before_what_to_expect(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(home, "students", monkeypatch, student="S005", number="driver.attack_angle")
    text = text_of(app)
    assert "Expected to do more than free practice for this student, 80% interval above zero: Rod behind" in text
    assert 0 < text.index("**Caution.**") < text.index("Rod behind the ball: expected 1.4° up beyond free practice")


def test_a_students_head_leads_on_and_only_to_pages_that_the_reader_has(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = opened(home, "students", monkeypatch, student="S005")
    assert {"Record", "Take home"} <= {one.proto.label for one in app.get("page_link")}
    monkeypatch.setitem(access.PAGES_OF, "administrator", access.PAGES_OF["analyst"])
    app = opened(home, "students", monkeypatch, student="S005")
    assert not app.exception
    assert not {"Record", "Take home"} & {one.proto.label for one in app.get("page_link")}


def test_a_students_own_goal_comes_first_with_the_latest_session_read(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = opened(home, "students", monkeypatch, student="S001")
    assert app.selectbox(key="choice-number").value == "driver.attack_angle"
    text = text_of(app)
    assert "Own goal: “hit up on it” (driver attack angle, target 3.0°, by 26 May 2031)." in text
    assert "1. Attack angle of 0.4° costs about 6 yd of carry." in text


def test_a_drill_that_was_stopped_says_so_first(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(home, "drill", monkeypatch, drill="R1")
    assert app.warning[0].value == "Stopped 2 times: aid struck, last on 3 March 2031."


def test_a_drill_without_a_caution_of_its_own_has_the_standing_one(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copied = own_home(home, tmp_path)
    with duckdb.connect((copied / "published" / "current.duckdb").resolve()) as file:
        file.execute("update mart.drill set caution = null")
    for page, parameters in (("drill", {"drill": "R1"}), ("students", {"student": "S005"})):
        assert f"**Caution.** {notebook.ALWAYS}" in text_of(opened(copied, page, monkeypatch, **parameters))
    planned = opened(copied, "trials", monkeypatch, show="plan", number="driver.attack_angle", drills="R1,R2")
    assert text_of(planned).count(notebook.ALWAYS) == 2


def test_the_metric_system_shows_kilometres_per_hour(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own_home(home, tmp_path)
    (tmp_path / "home" / "academy.toml").write_text('[units]\nsystem = "metric"\n', encoding="utf-8")
    app = opened(tmp_path / "home", "students", monkeypatch, student="S003", number="driver.club_speed")
    assert "km/h" in text_of(app)
    assert "mph" not in text_of(app)


def test_sql_in_the_address_waits_for_run_and_then_says_rows_and_night(
    here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = opened(here, "sql", monkeypatch, sql="select count(*) as drills from mart.drill")
    assert words.SQL_NOT_RUN in text_of(app)
    assert not app.dataframe[:-1]
    assert entries(here, "usage").is_empty()
    tap(app, words.SQL_RUN)
    assert words.SQL_NOT_RUN not in text_of(app)
    assert not app.exception
    assert "1 row, " in text_of(app)
    assert "through the night of 13 April 2031." in text_of(app)


def test_sql_that_writes_is_refused_in_a_sentence(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(here, "sql", monkeypatch, sql="drop table mart.drill")
    assert not app.error
    tap(app, words.SQL_RUN)
    assert not app.exception
    assert app.error


@pytest.mark.parametrize("example", words.SQL_EXAMPLES)
def test_an_example_query_runs(example: str, published: str) -> None:
    from warehouse.query import guard

    assert guard.run(Path(published), words.SQL_EXAMPLES[example]).columns


@pytest.mark.parametrize("page", ["week", "bays", "students"])
def test_a_file_that_an_older_version_published_is_said_and_no_page_breaks(
    page: str, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copied = own_home(home, tmp_path)
    with duckdb.connect((copied / "published" / "current.duckdb").resolve()) as older:
        older.execute("drop table ops.current_through")
        older.execute("alter table mart.student drop column name")
        older.execute("drop table mart.bay_night")
        older.execute("drop table mart.cohort_change")
    app = opened(copied, page, monkeypatch)
    assert not app.exception
    assert words.OLD_FILE.format(home=copied) in text_of(app)


def test_no_file_of_a_page_holds_a_string_that_would_be_printed_on_it() -> None:
    """A bare string beside the docstring is shown by Streamlit as text; settings turn that off, and no page has one."""
    bare = [
        (path.name, node.lineno)
        for path in [APP, *sorted((APP.parent / "app_pages").glob("*.py"))]
        for node in ast.parse(path.read_text(encoding="utf-8")).body[1:]
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    ]
    assert bare == []
    settings = tomllib.loads((APP.parent / ".streamlit" / "config.toml").read_text(encoding="utf-8"))
    assert settings["runner"]["magicEnabled"] is False
