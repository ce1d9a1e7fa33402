"""Next morning: which drills counted and why others did not, and the last session's balls in time."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import duckdb
import pytest
from made_notebook import BAY, STUDENT, in_bay, own_home, text_of

from dashboard.charts import session_timeline
from dashboard.notebook import last_session
from dashboard.shell.home_view import read_home
from dashboard.shell.page_context import Reading
from dashboard.shell.theme import LIGHT, svg
from dashboard.text import notebook as words
from dashboard.text import notebook_sentences

EPISODE: dict[str, Any] = {
    "begins_at": datetime(2031, 4, 1, 10, 20), "name": "Rod behind the ball", "drill_id": "R1", "shown_as": "Given5",
    "aim_metric": "attack_angle", "aim_measured": True, "pre_shots": 8, "post_shots": 9, "excluded_reason": None,
    "numbers": 18, "counted": 17, "end_assumed": False, "night": date(2031, 4, 1),
}  # fmt: skip


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({}, "counts for attack angle (8 free balls before, 9 after)."),
        (
            {"excluded_reason": "too few shots", "pre_shots": 3},
            "does not count for attack angle: 3 free balls before, 9 after, 5 are needed on each side. Next time let 5 "
            "be hit freely before the aid goes down and after it comes up.",
        ),
        ({"excluded_reason": "no consent"}, "the student has not agreed to be used in evidence."),
        ({"excluded_reason": "event between"}, "a new club or a recalibrated device lies between"),
        ({"aim_measured": False}, "does not count for attack angle: the bay did not measure it."),
        (
            {"excluded_reason": "not measured", "aim_measured": False, "pre_shots": 0, "post_shots": 0},
            "does not count for attack angle: the bay did not measure it.",
        ),
        (
            {"excluded_reason": "too few shots", "pre_shots": 3, "pre_balls": 12, "post_balls": 9},
            "does not count for attack angle: 3 of 12 free balls before and 9 of 9 after have it, 5 are needed on each "
            "side.",
        ),
        ({"numbers": 0, "counted": 0, "aim_measured": False}, "does not count for attack angle"),
        ({"end_assumed": True}, "Its end was not logged"),
    ],
)
def test_a_drill_is_told_to_count_or_why_it_does_not(change: dict[str, Any], told: str) -> None:
    assert told in notebook_sentences.episode(EPISODE | change, "attack angle", 5)


def test_a_drill_without_an_aim_counts_for_its_numbers() -> None:
    row = EPISODE | {"aim_metric": None, "aim_measured": False}
    assert "counts for 17 numbers." in notebook_sentences.episode(row, None, 5)
    assert notebook_sentences.counts(row)


def test_the_count_of_drills_that_counted_leaves_out_those_that_did_not() -> None:
    rows = [EPISODE, EPISODE | {"excluded_reason": "no consent"}, EPISODE | {"aim_measured": False}]
    assert notebook_sentences.counted(rows).startswith("1 of 3 drills on the night of 1 April 2031 counted")


@pytest.fixture
def played(home: Path, tmp_path: Path) -> Path:
    """Return a home in which the student's last session held a drill with too few balls before it."""
    here = own_home(home, tmp_path)
    path = str((here / "published" / "current.duckdb").resolve())
    with duckdb.connect(path) as connection:
        session, begins = connection.execute(
            "select session_id, begins_at from core.session where student_id = ? order by begins_at desc", [STUDENT]
        ).fetchone() or ("", datetime.min)
        down, up = begins + timedelta(minutes=10), begins + timedelta(minutes=20)
        connection.execute("delete from core.drill_episode where session_id = ?", [session])
        connection.execute(
            "insert into core.drill_episode by name select session.night, 'E1' as episode_id, 'drill' as kind, 'R1' as "
            "drill_id, student_id, session_id, bay_id, 'driver' as club, 'driver' as club_group, ?::timestamp as "
            "begins_at, ?::timestamp as ends_at, false as end_assumed, 3 as drill_shots from core.session as session "
            "where session_id = ?",
            [down, up, session],
        )
        connection.execute(
            "insert into core.episode_metric by name select 'E1' as episode_id, 'attack_angle' as metric, 3 as "
            "pre_shots, 9 as post_shots, 'too few shots' as excluded_reason"
        )
        connection.execute(
            "update core.shot set struck_at = spread, struck_at_local = spread from (select path as p, line as l, "
            "?::timestamp + interval 90 second * row_number() over (order by line) as spread from core.shot where "
            "session_id = ?) where path = p and line = l",
            [begins, session],
        )
        connection.execute(
            "update core.shot set phase = 'drill', episode_id = 'E1', usable = false where session_id = ? and "
            "struck_at_local between ? and ?",
            [session, down, up],
        )
    return here


@pytest.fixture
def read(played: Path) -> Reading:
    """Return a reading of that home."""
    home = read_home(played)
    assert home.published is not None
    return Reading(home, home.published)


def test_the_next_morning_the_page_says_why_a_drill_did_not_count(
    played: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = text_of(in_bay(played, monkeypatch))
    assert "0 of 1 drill on the night of" in text
    assert "does not count for attack angle: 3 free balls before, 9 after, 5 are needed on each side." in text


def changed(here: Path, *statements: str) -> Path:
    """Return a home with its published file changed."""
    with duckdb.connect(str((here / "published" / "current.duckdb").resolve())) as connection:
        for statement in statements:
            connection.execute(statement)
    return here


MEASURED = (
    "insert into core.episode_metric by name select 'E1' as episode_id, '{}' as metric, 9 as pre_shots, 9 as post_shots"
)
NOT_MEASURED = "update core.episode_metric set pre_shots = 0, post_shots = 0"


def test_a_drill_whose_aim_its_bay_does_not_measure_is_not_told_to_have_too_few_balls(
    played: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    changed(played, NOT_MEASURED, MEASURED.format("ball_speed"))
    text = text_of(in_bay(played, monkeypatch))
    assert "does not count for attack angle: the bay did not measure it." in text
    assert "0 free balls" not in text


def test_a_drill_without_an_aim_that_counts_for_a_number_is_not_told_that_it_does_not(
    played: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    changed(played, "update mart.drill set aim_metric = null", MEASURED.format("ball_speed"))
    text = text_of(in_bay(played, monkeypatch))
    assert "1 of 1 drill on the night of" in text
    assert "counts for 1 number." in text


@pytest.mark.parametrize(
    ("own", "told"),
    [
        (
            "ball_speed",
            ["Bay B06 does not measure attack angle: here this drill will not count for its aim. Bays here that do: "
             "B01."],
        ),
        ("attack_angle", []),
    ],
)  # fmt: skip
def test_a_bay_that_does_not_measure_a_drills_aim_says_so_before_it_begins_and_which_bays_do(
    own: str, told: list[str], played: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    block = (
        "insert into core.block by name select max(night) as night, '{0}' as bay_id, '{1}' as metric from core.session"
    )
    changed(played, "delete from core.block", block.format(BAY, own), block.format("B01", "attack_angle"))
    app = in_bay(played, monkeypatch)
    app.pills(key=f"drill-{STUDENT}").set_value("R1").run()
    assert [one.value for one in app.warning if "does not measure" in one.value] == told


def test_the_timeline_shades_the_drill_and_tells_its_balls_apart(read: Reading) -> None:
    session = last_session.latest(read, STUDENT)
    assert session is not None
    shots = read.ask("session_shots", session_id=session["session_id"])
    drills = read.ask("night_episodes", night=session["night"], coach_id=None, session_id=session["session_id"])
    shown = read.shown("attack_angle", "driver")
    chart = session_timeline.chart(shots, drills, session["ends_at"], shown, LIGHT, shown.label, width=600)
    drawing = svg(chart)
    assert "Rod behind the ball" in drawing
    assert "attack angle (°)" in drawing
    kinds = shots.select(session_timeline.kinds(shots).alias("kind"))["kind"]
    inside = shots["struck_at_local"].is_between(drills["begins_at"][0], drills["ends_at"][0])
    assert (kinds == "during a drill").to_list() == inside.to_list()
    assert inside.any()


def test_stretches_follow_each_other_in_time_and_hold_every_ball(read: Reading) -> None:
    session = last_session.latest(read, STUDENT)
    assert session is not None
    shots = read.ask("session_shots", session_id=session["session_id"])
    rows = last_session.stretches(shots, "attack_angle", {"E1": "Rod behind the ball"})
    assert sum(row["shots"] for row in rows) == shots.height
    assert "Rod behind the ball" in [row["stretch"] for row in rows]
    assert [row["begins_at"] for row in rows] == sorted(row["begins_at"] for row in rows)


def test_gaps_lie_between_two_balls(read: Reading) -> None:
    gaps = last_session.gaps(read, STUDENT)
    session = last_session.latest(read, STUDENT)
    assert session is not None
    struck = read.ask("session_shots", session_id=session["session_id"])["struck_at_local"]
    assert len(gaps.options) > 2
    for _, middle, seconds in gaps.options[:-1]:
        near = (struck - middle).abs().min()
        assert isinstance(near, timedelta)
        assert abs(near.total_seconds() - seconds / 2) < 1
    assert gaps.options[-1][0] == words.TO_THE_END
    assert gaps.options[-1][1] > struck.max()


def test_a_drill_is_placed_afterwards_in_the_gaps_of_the_last_session(
    played: Path, read: Reading, monkeypatch: pytest.MonkeyPatch
) -> None:
    from made_notebook import entries, widget

    app = in_bay(played, monkeypatch)
    widget(app.get("button_group"), "after-when-").set_value("session").run()
    assert widget(app.button, "after-").disabled
    widget(app.selectbox, "after-drill-").set_value("R2").run()
    widget(app.selectbox, "after-gap-down-").set_value(0).run()
    widget(app.selectbox, "after-gap-up-").set_value(1).run()
    widget(app.button, "after-").click().run()
    row = entries(played, "drill_entry").row(0, named=True)
    options = last_session.gaps(read, STUDENT).options
    assert (row["starts_at"], row["ends_at"]) == (options[0][1], options[1][1])
    assert row["placed_afterwards"]
    assert row["bay_id"] == BAY


def test_a_drill_placed_on_one_that_was_logged_is_refused_with_the_reason(
    played: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from made_notebook import entries, widget

    app = in_bay(played, monkeypatch)
    widget(app.get("button_group"), "after-when-").set_value("session").run()
    widget(app.selectbox, "after-drill-").set_value("R2").run()
    widget(app.selectbox, "after-gap-down-").set_value(0).run()
    last = len(widget(app.selectbox, "after-gap-up-").options)
    widget(app.selectbox, "after-gap-up-").set_value(last).run()
    widget(app.button, "after-").click().run()
    assert "Not entered: Rod behind the ball is logged for this student" in app.error[0].value
    assert entries(played, "drill_entry").is_empty()


def test_likely_students_of_a_coach_come_first(read: Reading) -> None:
    at = datetime(2031, 4, 14, 10)
    ids = read.ask("likely_students", site_id="SITE-A", at=at, coach_id=None)
    assert ids.height == read.ask("students").height
    assert ids["visits"].to_list() == sorted(ids["visits"], reverse=True)
    with duckdb.connect(":memory:") as connection:
        connection.execute(f"attach '{read.path}' as made (read_only)")
        same = connection.execute(
            "select count(*) from made.core.session where student_id = ? and isodow(night) = 1 and "
            "abs(date_diff('minute', begins_at::time, time '10:00')) <= 75",
            [ids["student_id"][0]],
        ).fetchone()
    assert same == (ids["visits"][0],)


def test_typed_text_is_shown_as_typed_and_makes_no_picture_or_link() -> None:
    typed = "![x](https://example.org/a.png) **bold** # head"
    shown = notebook_sentences.plain(typed)
    assert shown.startswith(r"\!\[x\]\(https\:")
    assert "**" not in shown
