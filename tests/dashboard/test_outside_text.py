"""Whatever a file, a database, a login or a person says is only text on a page, and comes there in one way only.

That Markdown makes nothing of it is asked of another reader of Markdown (markdown-it-py, CommonMark with tables and
strikethrough); of what the pages' own reader adds (addresses, colours, pictures by name, formulas) of a browser, in
test_hostile_names.py.
"""

from __future__ import annotations

import polars as pl
import pytest
from markdown_it import MarkdownIt

from dashboard.shell import outside_text

READER = MarkdownIt("commonmark").enable(["table", "strikethrough"])
ONLY_TEXT = {"paragraph_open", "paragraph_close", "inline", "text", "softbreak", "hardbreak", "text_special"}
HOSTILE = (
    "![x](http://127.0.0.1:9/y)", "![x][y]", "[y]: //elsewhere.example/z", "![y]", "[y]", "[go](//elsewhere.example)",
    "<http://elsewhere.example>", "<b>", "<!-- x", "<img src=x onerror=y>", "&lt;b&gt;", "&#33;[x](y)", "# head",
    " > said", "- one", "* one", "+ one", "1. one", "3) one", "---", "***", "a\n===", "a\n---", "a\n\n# head",
    "a\n\n![x][y]\n\n[y]: //elsewhere.example", "```\ncode", "~~~\ncode", "    code", "\tcode", "|a|b|\n|-|-|\n|c|d|",
    "a | b\n--|--\nc | d", "*em*", "an _em_ word", "**bold**", "`code`", "~~gone~~", "a\\\nb", "[^1]: note",
    "a\n\n1. one\n2. two", "[a]\n: b",
)  # fmt: skip
PLAIN = ("plain", "attack_angle", "face_to_path", "10:30:15", "2031-04-13/B01.csv", "<5", "~1", "a * b", "Rod (short)",
         "-5.2", "+3", "3.5", "a_b", "Müller & Söhne", "50 %", "AT&T", "a-b", "#1")  # fmt: skip
BEYOND = ("www.x.y", "HTTPS://x", ":red[x]", ":smile:", "$x$ and $y$", "\u202e")
AROUND = ("{}", "- {}", "Bay {}, two.", "**{}**")


def kinds(markdown: str) -> set[str]:
    """Return what Markdown sees in a text."""
    seen = READER.parse(markdown)
    return {token.type for token in seen} | {child.type for token in seen for child in token.children or ()}


@pytest.mark.parametrize("around", AROUND)
@pytest.mark.parametrize("text", HOSTILE)
def test_markdown_sees_only_text_in_a_neutralised_text(text: str, around: str) -> None:
    ours = kinds(around.format("x")) - ONLY_TEXT
    if around == "**{}**":
        text = " ".join(text.split())
    assert kinds(around.format(outside_text.neutralise_markdown(text))) - ONLY_TEXT <= ours


@pytest.mark.parametrize("around", AROUND)
@pytest.mark.parametrize("text", HOSTILE)
def test_markdown_sees_only_text_in_an_escaped_text(text: str, around: str) -> None:
    ours = kinds(around.format("x")) - ONLY_TEXT
    assert kinds(around.format(outside_text.as_text(text))) - ONLY_TEXT <= ours


@pytest.mark.parametrize("text", HOSTILE)
def test_a_text_cannot_end_the_code_it_stands_in(text: str) -> None:
    assert kinds(f"add `{outside_text.in_code(text)}` to it") - ONLY_TEXT == {"code_inline"}


@pytest.mark.parametrize("text", PLAIN)
def test_what_is_no_markdown_stays_as_it_is(text: str) -> None:
    assert outside_text.neutralise_markdown(text) == text


@pytest.mark.parametrize("text", [*HOSTILE, *PLAIN, *BEYOND])
def test_the_one_look_at_a_text_finds_whatever_would_be_changed_in_it(text: str) -> None:
    frame = pl.DataFrame({"name": [text]})
    changed = outside_text.neutralise_markdown(text) != text
    assert frame["name"].str.contains(outside_text.ANY_MARK)[0] == changed


def test_an_id_with_markdown_in_it_is_shown_as_text_and_still_asked_by_as_it_was() -> None:
    shown = outside_text.neutralise_frame(pl.DataFrame({"bay_id": ["B[1]", "B2"]}))["bay_id"].to_list()
    assert shown[0] != "B[1]"
    assert [outside_text.as_kept(one) for one in shown] == ["B[1]", "B2"]


def test_every_text_of_the_last_runs_word_is_neutralised() -> None:
    word = {"message": "![x](http://127.0.0.1:9/y)", "warnings": ["[y]: //z", {"![k](v)": 1}], "n": 3}
    told = outside_text.neutralise_all(word)
    assert kinds(str(told)) <= ONLY_TEXT
    assert told["n"] == 3
