"""Every chart draws to SVG in both looks, names its units, and carries alternative text."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import drawn
import polars as pl
import pytest

from dashboard.charts import (
    attack_path,
    bay_grid,
    bay_history,
    bay_offsets,
    carry_by_attack,
    carry_sources,
    changes,
    cohort_carry,
    cohort_levels,
    cohort_pairs,
    forest,
    query_result,
    responses,
    session_timeline,
    setup_association,
    side_effects,
    student_sessions,
)
from dashboard.shell import query_cache, theme
from dashboard.shell.home_view import Home
from dashboard.shell.page_context import Reading
from dashboard.shell.theme import Chart, Look

STUDENT = {"student_id": "S001"}
NUMBER = {"club_group": "driver", "metric": "attack_angle"}
Draw = Callable[[Reading, Look], Chart]


def draw_forest(read: Reading, look: Look) -> Chart:
    rows = read.ask("drill_comparison", metric="attack_angle", club_group="driver", measure="centre")
    return forest.chart(rows, read.shown("attack_angle", "driver"), look, "up", width=600)


def draw_side_effects(read: Reading, look: Look) -> Chart:
    rows = pl.DataFrame(
        {"label": ["Carry"], "reads": ["+3 yd (1 to 5)"], "times": [0.6], "times_low": [0.2], "times_high": [1.0]}
    )
    return side_effects.chart(rows, look, width=600)


def draw_setup(read: Reading, look: Look) -> Chart:
    rows = read.ask("setup_association", **NUMBER)
    return setup_association.chart(rows, read.shown("attack_angle", "driver"), look, width=600)


def draw_responses(read: Reading, look: Look) -> Chart:
    rows = read.ask("drill_responses", drill_id="R1", **NUMBER)
    return responses.chart(rows, read.shown("attack_angle", "driver"), look, width=600)


def cohort_rows(read: Reading) -> pl.DataFrame:
    rows = read.ask("cohort_change", window_pair="term")
    return rows.filter((pl.col("club_group") == "driver") & (pl.col("metric") == "attack_angle"))


def draw_levels(read: Reading, look: Look) -> Chart:
    return cohort_levels.chart(cohort_rows(read), read.shown("attack_angle", "driver"), look, "Attack", width=400)


def draw_pairs(read: Reading, look: Look) -> Chart:
    students = read.ask("cohort_students", cohort="Spring", window_pair="term", **NUMBER)
    mean = cohort_rows(read).row(0, named=True)
    return cohort_pairs.chart(students, mean, read.shown("attack_angle", "driver"), look, "Attack", width=600)


def draw_sessions(read: Reading, look: Look) -> Chart:
    goal = read.ask("student_goals", **STUDENT).row(0, named=True)
    rows = read.ask("student_sessions", **STUDENT, **NUMBER)
    drills = read.ask("student_drills", **STUDENT)
    return student_sessions.chart(rows, drills, goal, read.shown("attack_angle", "driver"), look, "Attack", width=600)


def draw_attack_path(read: Reading, look: Look) -> Chart:
    mirrored = {"path_mirrored": True, "attack_mirrored": False}
    return attack_path.chart(read.ask("student_delivery", **STUDENT, club_group="driver", **mirrored), look, width=400)


def draw_carry_sources(read: Reading, look: Look) -> Chart:
    row = read.ask("student_carry", **STUDENT).row(0, named=True)
    return carry_sources.chart(row, read.shown("carry", "driver"), look, width=600)


def changes_of(read: Reading) -> pl.DataFrame:
    """Return the rows of two numbers' changes, one better upward and one downward."""
    rows = read.ask("cohort_change", window_pair="term").filter(pl.col("club_group") == "driver")
    return changes.prepared([
        (read.number(metric, "driver"), better, read.shown(metric, "driver"), rows.filter(pl.col("metric") == metric))
        for metric, better in (("attack_angle", "up"), ("club_path", "down"))
    ])  # fmt: skip


def draw_changes(read: Reading, look: Look) -> Chart:
    """Draw changes of goal numbers around zero."""
    return changes.chart(changes_of(read), look, width=600)


def draw_carry_by_attack(read: Reading, look: Look) -> Chart:
    place = read.ask("student_place", **STUDENT).row(0, named=True)
    grid = read.ask("carry_by_attack", club_speed=place["club_speed"])
    return carry_by_attack.chart(grid, place, read.shown("carry", "driver"), look, width=600)


def draw_cohort_carry(read: Reading, look: Look) -> Chart:
    rows = read.ask("cohort_carry", cohort="Spring", club_group="driver", period="week")
    return cohort_carry.chart(rows, read.shown("carry", "driver"), look, "week", width=600)


def draw_bay_grid(read: Reading, look: Look) -> Chart:
    return bay_grid.chart(read.ask("bay_nights", nights=7), look, width=600)


def draw_bay_offsets(read: Reading, look: Look) -> Chart:
    return bay_offsets.chart(
        read.ask("bay_offsets", metric="club_path"), read.shown("club_path", "any"), look, width=600
    )


def draw_bay_history(read: Reading, look: Look) -> Chart:
    rows = read.ask("bay_weeks", bay_id="B02", metric="club_path")
    return bay_history.chart(rows, read.shown("club_path", "any"), look, width=600)


def draw_query_result(read: Reading, look: Look) -> Chart:
    rows = pl.DataFrame({"club": ["driver", "iron-7"], "shots": [137728, 127741]})
    return query_result.chart(rows, "club", "shots", look, width=600)


def draw_timeline(read: Reading, look: Look) -> Chart:
    session = read.ask("session_latest", **STUDENT).row(0, named=True)
    shots = read.ask("session_shots", session_id=session["session_id"])
    drills = read.ask("night_episodes", night=session["night"], coach_id=None, session_id=session["session_id"])
    shown = read.shown("attack_angle", "driver")
    return session_timeline.chart(shots, drills, session["ends_at"], shown, look, "Attack", width=600)


CHARTS: dict[str, tuple[Draw, tuple[str, ...]]] = {
    "forest": (draw_forest, ("Rod behind the ball", "same session: works (moderate)", "beyond free practice (°)")),
    "side_effects": (draw_side_effects, ("+3 yd (1 to 5)",)),
    "setup_association": (draw_setup, ("stance width (driver), 5 cm more", "that went with it (°)")),
    "session_timeline": (draw_timeline, ("Attack (°)", "time of day")),
    "query_result": (draw_query_result, ("driver", "shots")),
    "responses": (draw_responses, ("luck alone", "(°)")),
    "cohort_levels": (draw_levels, ("Spring", "attack angle (°)")),
    "cohort_pairs": (draw_pairs, ("before", "after", "expected anyway", "Attack (°)")),
    "student_sessions": (draw_sessions, ("Attack (°)",)),
    "attack_path": (draw_attack_path, ("before", "after", "club path (°)")),
    "carry_sources": (draw_carry_sources, ("club speed", "all together", "change in carry (yd)")),
    "changes": (draw_changes, ("better →", "Driver attack angle", "Spring")),
    "carry_by_attack": (draw_carry_by_attack, ("this student", "best loft for each angle (yd)")),
    "cohort_carry": (draw_cohort_carry, ("as measured", "on standard air", "carry (yd)", "week from")),
    "bay_grid": (draw_bay_grid, ("silent", "refused", "late")),
    "bay_offsets": (draw_bay_offsets, ("drifting", "(°)")),
    "bay_history": (draw_bay_history, ("drift signalled", "(°)")),
}


@pytest.fixture
def read(published: str) -> Reading:
    """Return a reading of the made file in imperial units."""
    return Reading(Home(Path("unused"), published, {}, "imperial"), published)


def test_every_chart_file_is_drawn_in_a_test() -> None:
    files = {path.stem for path in (Path(query_cache.__file__).parents[1] / "charts").glob("*.py")} - {"__init__"}
    tests = "\n".join(path.read_text(encoding="utf-8") for path in Path(__file__).parent.rglob("test_*.py"))
    assert {name for name in files if f"{name}.chart(" not in tests} == set()


@pytest.mark.parametrize("name", CHARTS)
@pytest.mark.parametrize("look", theme.LOOKS.values(), ids=lambda look: look.name)
def test_a_chart_draws_with_labels_units_alternative_text_and_fourteen_pixel_type(
    name: str, look: Look, read: Reading
) -> None:
    draw, wanted = CHARTS[name]
    drawn.as_every_chart(draw(read, look), look, wanted)


def test_better_is_to_the_right_whichever_way_a_number_is_better(read: Reading) -> None:
    rows = changes_of(read).filter(~pl.col("head"))
    up, down = rows["steps"][0], rows["steps"][-1]
    told = read.ask("cohort_change", window_pair="term").filter(pl.col("club_group") == "driver")
    of = {row["metric"]: row["change"] for row in told.filter(pl.col("cohort") == rows["what"][-1]).to_dicts()}
    first = told.filter((pl.col("metric") == "attack_angle") & (pl.col("cohort") == rows["what"][0]))["change"][0]
    assert up == pytest.approx(first / read.shown("attack_angle", "driver").matters_from)
    assert down == pytest.approx(-of["club_path"] / read.shown("club_path", "driver").matters_from)
    assert (rows["low"] <= rows["steps"]).all()


def test_carry_parts_stand_end_to_end_and_add_up(read: Reading) -> None:
    row = read.ask("student_carry", **STUDENT).row(0, named=True)
    steps = carry_sources.steps(row, read.shown("carry", "driver"))
    parts = steps.filter(pl.col("kind") == "part")
    assert parts["start"].to_list()[1:] == pytest.approx(parts["end"].to_list()[:-1])
    assert parts["end"][-1] == pytest.approx(steps.filter(pl.col("kind") == "sum")["end"][0])


def test_the_ellipse_of_round_shots_is_a_circle_that_holds_two_thirds() -> None:
    row = {
        "path_variance": 4.0,
        "attack_variance": 4.0,
        "covariance": 0.0,
        "path_mean": 1.0,
        "attack_mean": -2.0,
        "stretch": "after",
    }
    outline = attack_path.ellipse(row)
    radius = ((outline["path"] - 1) ** 2 + (outline["attack"] + 2) ** 2).sqrt()
    # A bivariate normal holds 1 - exp(-r^2/2) within r standard deviations.
    share = 1 - (-((radius / 2) ** 2) / 2).exp()
    assert share.to_list() == pytest.approx([2 / 3] * outline.height)


def test_drills_that_only_have_the_number_as_a_side_effect_stand_last() -> None:
    frame = pl.DataFrame(
        {
            "name": ["side", "small", "large"],
            "horizon": ["transfer"] * 3,
            "is_aim": [False, True, True],
            "shrunk_effect": [None, 0.2, 0.9],
            "effect": [3.0, 0.3, 1.0],
        }
    )
    assert forest.order(frame, "up") == ["large", "small", "side"]
    assert forest.order(frame, "down") == ["small", "large", "side"]


def test_few_sessions_have_a_date_each_and_many_are_counted_by_the_axis() -> None:
    nights = [datetime(2031, 3, 3 + day, 18) for day in range(8)]
    rows = pl.DataFrame({"night": [when.date() for when in nights], "begins_at": nights})
    twice = pl.concat([rows.head(1), rows.head(2)])
    assert [mark.to_dict()["date"] for mark in student_sessions.dates(twice)["values"]] == [3, 4]
    assert student_sessions.dates(rows) == {}


def test_silent_late_and_refused_nights_are_told_apart_by_their_edges(read: Reading) -> None:
    nights = read.ask("bay_nights", nights=10)
    states = nights.head(3).with_columns(
        pl.Series("state", ["silent", "refused", "reported"]), pl.Series("late", [False, False, True])
    )
    svg = theme.svg(bay_grid.chart(states, theme.LIGHT, width=400))
    edges = re.findall(r'stroke="(#[0-9A-F]{6})"[^>]*?stroke-dasharray="([^"]*)"', svg)
    assert {(theme.LIGHT.warning, "6,4"), (theme.LIGHT.warning, "1,0"), (theme.LIGHT.before, "2,2")} <= set(edges)


def test_a_result_over_dates_or_numbers_draws_points() -> None:
    from datetime import date

    rows = pl.DataFrame({"week": [date(2031, 3, 3), date(2031, 3, 10)], "speed": [41.0, 42.0], "shots": [10, 12]})
    for across in ("week", "shots"):
        assert "speed" in theme.svg(query_result.chart(rows, across, "speed", theme.LIGHT, width=400))
    assert query_result.numbers(rows) == ["speed", "shots"]
