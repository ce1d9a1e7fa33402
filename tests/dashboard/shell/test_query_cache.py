"""Queries read published tables only, run on a made file, and are all in use; homes are read as they are."""

from __future__ import annotations

import json
import re
from pathlib import Path

import made_tables
import pytest

from dashboard.shell import query_cache
from dashboard.shell.home_view import display_system, folder_from, read_home
from dashboard.shell.theme import DARK, LIGHT

ROOT = Path(__file__).parents[3] / "dashboard"
QUERIES = sorted(query_cache.QUERIES.glob("*.sql"))
VALUES = {
    "cohort": "Spring",
    "window_pair": "term",
    "club_group": "driver",
    "metric": "attack_angle",
    "measure": "centre",
    "drill_id": "R1",
    "student_id": "S001",
    "club_speed": 41.0,
    "nights": 14,
    "night": "2031-04-02",
    "bay_id": "B02",
    "coach_id": "C1",
    "site_id": "SITE-A",
    "session_id": "L002-4",
    "at": "2031-04-07 09:10:00",
    "period": "week",
    "club": "driver",
    "grouped_by": "drill",
    "group_id": "R1",
    "path_mirrored": True,
    "attack_mirrored": False,
}
MAY_BE_EMPTY = {"check_results"}


def parameters(text: str) -> dict[str, object]:
    """Return values for the parameters that a query names."""
    return {name: VALUES[name] for name in set(re.findall(r"\$(\w+)", text))}


@pytest.mark.parametrize("path", QUERIES, ids=lambda path: path.stem)
def test_a_query_gives_rows_on_the_made_file(path: Path, published: str) -> None:
    frame = query_cache.ask(published, path.stem, **parameters(path.read_text(encoding="utf-8")))
    assert frame.width
    assert frame.height or path.stem in MAY_BE_EMPTY


@pytest.mark.parametrize("path", QUERIES, ids=lambda path: path.stem)
def test_a_query_reads_published_tables_only(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    tables = set(re.findall(r"\b(?:from|join)\s+(\w+\.\w+)", text))
    published = {name for name, table in made_tables.TABLES.items() if table.published}
    assert tables and tables <= published


@pytest.mark.parametrize("path", QUERIES, ids=lambda path: path.stem)
def test_a_query_that_names_a_coach_gives_no_outcome(path: Path) -> None:
    text = re.sub(r"--.*", "", path.read_text(encoding="utf-8"))
    outcome = r"\w*(effect|change|centre|spread|response|model_carry|carry_gap)\b"
    assert "coach_id" not in text or not re.search(outcome, text)


def test_every_frame_asked_for_has_a_query_and_every_query_is_asked_for() -> None:
    source = "\n".join(path.read_text(encoding="utf-8") for path in ROOT.rglob("*.py"))
    asked = set(re.findall(r'\bask\(\s*(?:[\w.]+,\s*)?"(\w+)"', source))
    assert asked == {path.stem for path in QUERIES}


def test_the_connection_is_read_only_and_cut_off_from_files(published: str, tmp_path: Path) -> None:
    cursor = query_cache.connection(published).cursor()
    with pytest.raises(query_cache.duckdb.Error, match="read-only"):
        cursor.execute("create table core.more (x int)")
    with pytest.raises(query_cache.duckdb.Error):
        cursor.execute(f"copy (select 1) to '{tmp_path / 'out.csv'}'")


def test_a_new_publication_is_read_after_the_link_is_swung(home: Path, tmp_path: Path) -> None:
    link = tmp_path / "published" / "current.duckdb"
    link.parent.mkdir()
    first = Path(read_home(home).published or "")
    link.symlink_to(first)
    assert read_home(tmp_path).published == str(first)
    second = link.parent / "next.duckdb"
    second.write_bytes(first.read_bytes())
    swung = link.parent / "swung"
    swung.symlink_to(second.name)
    swung.replace(link)
    assert read_home(tmp_path).published == str(second)


def test_the_home_is_the_argument_else_the_environment_else_a_folder_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ACADEMY_HOME", "/elsewhere")
    assert folder_from(["--home", "/given"]) == Path("/given")
    assert folder_from([]) == Path("/elsewhere")
    monkeypatch.delenv("ACADEMY_HOME")
    assert folder_from([]) == Path("academy_home")


@pytest.mark.parametrize(
    ("text", "system"),
    [
        ("", "imperial"),
        ('[units]\nsystem = "metric"', "metric"),
        ('[units]\nsystem = "cubits"', "imperial"),
        ("[", "imperial"),
    ],
)
def test_display_units_come_from_settings_and_are_imperial_otherwise(tmp_path: Path, text: str, system: str) -> None:
    (tmp_path / "academy.toml").write_text(text, encoding="utf-8")
    assert display_system(tmp_path) == system


def test_a_broken_word_of_the_last_run_is_no_word(tmp_path: Path) -> None:
    (tmp_path / "published").mkdir()
    (tmp_path / "published" / "last_run.json").write_text("{", encoding="utf-8")
    assert read_home(tmp_path).last_run == {}
    (tmp_path / "published" / "last_run.json").write_text(json.dumps({"outcome": "not published"}), encoding="utf-8")
    assert read_home(tmp_path).failed


def test_the_theme_file_and_the_charts_have_the_same_colours() -> None:
    import tomllib

    theme = tomllib.loads((ROOT / ".streamlit" / "config.toml").read_text(encoding="utf-8"))["theme"]
    for look in (LIGHT, DARK):
        assert theme[look.name]["backgroundColor"] == look.paper
        assert theme[look.name]["textColor"] == look.ink
        assert theme[look.name]["primaryColor"] == look.after
