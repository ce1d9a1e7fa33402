"""One way from text of elsewhere to a page, and no other: held by rules on the code, and tried on every page.

The rules read the dashboard's modules; what is allowed stands here by name, with why.
"""

from __future__ import annotations

import ast
import json
from pathlib import Path
from typing import Any

import duckdb
import pytest
from made_notebook import enter, entries, everything, in_the_morning, opened, own_home, tap
from markdown_it import MarkdownIt
from streamlit.testing.v1 import AppTest

from dashboard.shell import access, outside_text
from dashboard.text import words
from warehouse.notebook import actions
from warehouse.schema.declaration import NAME, WORDS
from warehouse.schema.registry import TABLES

ROOT = Path(__file__).parents[2] / "dashboard"
MODULES = {str(path.relative_to(ROOT)): ast.parse(path.read_text(encoding="utf-8")) for path in ROOT.rglob("*.py")}
WAYS = {"as_text", "plain", "in_code", "neutralise_markdown", "neutralise_frame", "neutralise_all", "say_error",
        "escape"}  # fmt: skip
DOORS = {
    "connect": {"shell/query_cache.py": "ask neutralises", "shell/anonymised_copy.py": "writes a copy, shows nothing",
                "notebook/store.py": "what was typed is escaped where a sentence is made of it, below"},
    "loads": {"shell/home_view.py": "last_run neutralises; units are two words", "shell/chart_cache.py": "a chart"},
    "read_text": {"shell/home_view.py": "as above", "shell/query_cache.py": "our own queries",
                  "shell/server.py": "the library's own page"},
    "read_bytes": {}, "open": {}, "read_csv": {}, "read_parquet": {}, "read_ipc": {}, "read_json": {},
}  # fmt: skip
"""What brings text in -> the modules that may call it, and why nothing comes through."""
RAW = {"write", "json", "latex", "echo", "help", "exception", "iframe", "metric", "table"}
"""Ways to print that guess what a text is, or print more of it than text."""
HOSTILE = (
    "![x](http://127.0.0.1:9/y)", "![x][y]", "[y]: //elsewhere.example/z", "<img src=x onerror=y>", "# head",
    "a\n\n# head", "`code` **bold**", "```\ncode", "|a|b|\n|-|-|\n|c|d|", "[go](//elsewhere.example)", "1. one",
)  # fmt: skip
READER = MarkdownIt("commonmark").enable(["table", "strikethrough"])
MORE_THAN_TEXT = {"image", "html_inline", "html_block", "heading_open", "fence", "code_block", "table_open"}


def calls(tree: ast.AST) -> list[tuple[str, ast.Call]]:
    """Return every call of a module with the last part of its name."""
    found = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return [(getattr(node.func, "attr", getattr(node.func, "id", "")), node) for node in found]


@pytest.mark.parametrize("door", DOORS)
def test_text_comes_into_the_dashboard_where_it_is_neutralised_and_nowhere_else(door: str) -> None:
    calling = {name for name, tree in MODULES.items() if door in {called for called, _ in calls(tree)}}
    assert calling <= set(DOORS[door]), calling - set(DOORS[door])


def test_what_a_fault_says_reaches_a_page_by_the_one_way_only() -> None:
    """A fault's words may hold a cell, a header, a name: each is given to a way, to the log, or to another fault."""
    wrong = []
    for name, tree in MODULES.items():
        for handler in ast.walk(tree):
            if not isinstance(handler, ast.ExceptHandler) or handler.name is None:
                continue
            allowed = {
                used
                for called, call in calls(handler)
                if called in WAYS | {"isinstance", "error", "print"} and (called != "error" or call_of(call) == "LOG")
                for used in ast.walk(call)
            }
            raised = {used for node in ast.walk(handler) if isinstance(node, ast.Raise) for used in ast.walk(node)}
            uses = [node for node in ast.walk(handler) if isinstance(node, ast.Name) and node.id == handler.name]
            wrong += [(name, use.lineno) for use in uses if use not in allowed | raised]
    assert wrong == []


def call_of(call: ast.Call) -> str:
    """Return what a method is called on."""
    return getattr(getattr(call.func, "value", None), "id", "")


TYPED = {"words", "harm_words", "reason", "entered_by", "measure"}
"""Columns of the notebook that hold what a person typed."""
OURS = {("text/trial_result_sentences.py", "reason"): "why no difference can be given: the analysis's own words"}
OF_NOTEBOOK = ("notebook/", "trials/", "text/notebook_", "text/trial_", "app_pages/trials",
               "app_pages/notebook")  # fmt: skip


def test_what_was_typed_stands_in_a_sentence_by_the_one_way_only() -> None:
    wrong = []
    for name, tree in MODULES.items():
        if not name.startswith(OF_NOTEBOOK):
            continue
        made_safe = {part for called, call in calls(tree) if called in WAYS for part in ast.walk(call)}
        for sentence in (node for node in ast.walk(tree) if isinstance(node, ast.FormattedValue)):
            wrong += [
                (name, part.lineno, part.slice.value)
                for part in ast.walk(sentence)
                if isinstance(part, ast.Subscript) and isinstance(part.slice, ast.Constant)
                and part.slice.value in TYPED and part not in made_safe and (name, part.slice.value) not in OURS
            ]  # fmt: skip
    assert wrong == []


def test_no_page_prints_in_a_way_that_guesses_what_a_text_is() -> None:
    raw = [(name, called) for name, tree in MODULES.items() for called, call in calls(tree)
           if called in RAW and call_of(call) == "st"]  # fmt: skip
    unsafe = [name for name, tree in MODULES.items() for _, call in calls(tree)
              if any(given.arg == "unsafe_allow_html" for given in call.keywords)]  # fmt: skip
    assert (raw, unsafe) == ([], [])


def test_html_on_a_page_is_our_own_style_only() -> None:
    given = {ast.unparse(call.args[0]) for tree in MODULES.values() for called, call in calls(tree)
             if called == "html" and call_of(call) == "st"}  # fmt: skip
    assert given == {"components.style()", "access.STYLE", "TARGETS"}


def test_what_an_address_or_a_login_says_is_compared_and_not_printed() -> None:
    printing = [
        (name, call.lineno)
        for name, tree in MODULES.items()
        for called, call in calls(tree)
        if called in {"markdown", "caption", "title", "header", "error", "warning", "info", "success", "toast"}
        for part in ast.walk(call)
        if isinstance(part, ast.Attribute) and part.attr in {"query_params", "headers", "cookies", "user"}
    ]
    assert printing == []


@pytest.fixture(scope="module")
def hostile(home: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a home in which every published text that people or files give is hostile, the last run's word too."""
    place = in_the_morning(own_home(home, tmp_path_factory.mktemp("hostile")))
    with duckdb.connect(str((place / "published" / "current.duckdb").resolve())) as file:
        there = set(file.execute("select schema_name || '.' || table_name from duckdb_tables()").fetchall())
        for name, table in TABLES.items():
            for column in table.columns:
                asked = column.personal in (WORDS, NAME) and not column.name.endswith("_id")
                if asked and column.type == "VARCHAR" and (name,) in there:
                    file.execute(
                        f"update {name} set {column.name} = $1[1 + (rowid % len($1))] where {column.name} is not null",
                        [list(HOSTILE)],
                    )
    said = {"outcome": "not published", "message": HOSTILE[0], "finished_at": HOSTILE[3], "warnings": list(HOSTILE)}
    (place / "published" / "last_run.json").write_text(json.dumps(said), encoding="utf-8")
    return place


def bodies(app: AppTest) -> list[str]:
    """Return every text of a page that is read as Markdown."""
    kinds = (app.title, app.header, app.subheader, app.markdown, app.caption, app.warning, app.error, app.info)
    said = [str(one.value) for kind in kinds for one in kind]
    labelled = (app.button, app.toggle, app.checkbox, app.selectbox, app.pills, app.text_input, app.text_area)
    labels = [one.label for kind in labelled for one in kind] + [one.label for one in app.expander]
    options = [option for one in app.pills for option in one.options]
    return [one for one in (*said, *labels, *options) if one]


def seen_in(body: str) -> set[str]:
    """Return what Markdown sees in a text that is more than text; a link to a place on the page itself is ours."""
    tokens: list[Any] = READER.parse(body)
    every = [one for token in tokens for one in (token, *(token.children or ()))]
    links = {"link" for one in every if one.type == "link_open" and not str(one.attrGet("href")).startswith("#")}
    return links | MORE_THAN_TEXT & {one.type for one in every}


@pytest.mark.parametrize("page", access.ALL)
def test_hostile_texts_of_every_table_and_of_the_last_run_are_only_text(
    page: str, hostile: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = opened(hostile, page, monkeypatch, bay="B06", student="S005")
    assert not app.exception
    wrong = {body[:200]: seen for body in bodies(app) if (seen := seen_in(body))}
    assert wrong == {}
    assert "The last run did not publish" in everything(app)


def test_what_a_coach_typed_is_only_text(hostile: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    enter(
        hostile, actions.set_goal, student_id="S005", words=HOSTILE[0], metric="attack_angle", club_group="driver",
        target=1.0,
    )  # fmt: skip
    for page in ("students", "notebook", "take_home"):
        app = opened(hostile, page, monkeypatch, bay="B06", student="S005")
        assert not app.exception
        assert {body[:200]: seen for body in bodies(app) if (seen := seen_in(body))} == {}
    assert not entries(hostile, "goal").is_empty()


@pytest.mark.parametrize("text", HOSTILE)
def test_a_query_that_fails_says_so_in_only_text(text: str, hostile: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    quoted = text.replace("'", "''")
    app = tap(opened(hostile, "sql", monkeypatch, sql=f"select error('{quoted}')"), words.SQL_RUN)
    assert app.error[-1].value.startswith("The query could not run")
    assert {body for body in bodies(app) if seen_in(body)} == set()


def test_the_rules_see_a_text_that_is_more_than_text() -> None:
    assert all(seen_in(text) for text in HOSTILE if text not in ("![x][y]", "[y]: //elsewhere.example/z", "1. one")
               and "bold" not in text)  # fmt: skip
    assert outside_text.neutralise_markdown(HOSTILE[0]) != HOSTILE[0]
