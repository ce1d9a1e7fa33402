"""A made home in which whatever has a name has a hostile one, and what a page must not do with them."""

from __future__ import annotations

import shutil
from html.parser import HTMLParser
from pathlib import Path

import duckdb
from browsing import fits
from selenium import webdriver
from selenium.webdriver.common.by import By

from dashboard.shell.outside_text import LOOK_ALIKE

HURT = "document.title='hurt'"
NAMES = (
    f"<script>{HURT}</script>", f'<img src=x onerror="{HURT}">', f"</svg></td></p><svg onload={HURT}>",
    "![seen](http://127.0.0.1:9/seen.png)", f"[go](javascript:{HURT})", "=cmd|'/C calc'!A0", "**bold** $x^2$ :red[x]",
    f"&lt;script&gt;{HURT}", "{{7*7}}${7*7}", f'" onmouseover="{HURT}', "www.elsewhere.example http://elsewhere.example",
    "*Al* _so_ ~~not~~ `code` :skull: :material/delete: :blue-background[y]", r"$\frac{1}{2}$ and $$z$$",
    "\u202eeman a\u202c \u2067backwards", "# A heading", "W" * 300,
)  # fmt: skip
SHOWN = {
    "mart.student": ("name",), "mart.drill": ("name", "setup", "caution"), "mart.bay": ("site_name",),
    "mart.goal": ("words",), "ops.export_file": ("reason",), "ops.rejected_row": ("value", "detail"),
    "ops.publication": ("warnings",),
}  # fmt: skip

HURTING = "img[src='x'], img[src*='seen'], a[href^='javascript'], svg[onload], [onmouseover], [onerror]"
FORMATTED = (
    ".katex, a[href*='//elsewhere'], a[href*='//www.elsewhere'], .stMarkdownColoredText, .stMarkdownColoredBackground, "
    "[role='img'][aria-label='delete icon']"
)
"""What Markdown would make of them."""
TURNED = "\u202a\u202b\u202d\u202e\u2067\U0001f480"
"""Marks that turn the rest of a line around, and the picture that a short code stands for."""


def as_typed(text: str) -> str:
    """Return a text with what parts Markdown taken out again, and without marks that turn a line around."""
    back = dict.fromkeys((*TURNED, "\u202c", "\u2060"), "") | {other: sign for sign, other in LOOK_ALIKE.items()}
    return text.translate(str.maketrans(back | {"\u02cd": "_"}))


def home(made: Path, place: Path) -> Path:
    """Return a copy of a made home with hostile names."""
    copied = Path(shutil.copytree(made, place / "home", symlinks=True))
    with duckdb.connect((copied / "published" / "current.duckdb").resolve()) as opened:
        for table, columns in SHOWN.items():
            for column in columns:
                opened.execute(
                    f"update {table} set {column} = $1[1 + (rowid % len($1))] where {column} is not null", [list(NAMES)]
                )
        tables = opened.execute("select schema_name || '.' || table_name from duckdb_columns() "
                              "where column_name = 'cohort' and not internal").fetchall()  # fmt: skip
        for (table,) in tables:
            opened.execute(f"update {table} set cohort = cohort || $1 where cohort <> 'all students'", [NAMES[1]])
    return copied


def shown_as_text(browser: webdriver.Chrome) -> None:
    """Assert that a page runs nothing, asks for nothing from elsewhere, and prints names as they are."""
    assert browser.title != "hurt"
    for wrong in (HURTING, FORMATTED, "[data-testid='stException']"):
        found = [one.get_attribute("outerHTML")[:400] for one in browser.find_elements(By.CSS_SELECTOR, wrong)]
        assert not found, found
    assert not browser.find_elements(By.XPATH, "//script[contains(., 'hurt')]"), "a script"
    marked = browser.execute_script("return [...document.querySelectorAll('strong, em, code, del, h1, h2, h3')]"
                                    ".map(one => one.textContent.trim())")  # fmt: skip
    assert not set(marked) & {"Al", "so", "not", "code", "bold", "A heading"}, marked
    strange = set(browser.execute_script("return document.body.textContent")) & set(TURNED)
    assert not strange, strange
    assert fits(browser)


class Tags(HTMLParser):
    """Collects the tags of a page and their attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict]] = []
        self.text = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list) -> None:
        """Keep a tag."""
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        """Keep text."""
        self.text += data


def harmless(text: str) -> Tags:
    """Assert that a page runs nothing and asks for nothing from elsewhere; return what it holds."""
    read = Tags(text)
    assert {tag for tag, _ in read.tags} & {"script", "img", "iframe", "object", "link"} == set()
    assert [(tag, name) for tag, held in read.tags for name in held if name.startswith("on")] == []
    assert [held["href"] for _, held in read.tags if not held.get("href", "#").startswith("#")] == []
    return read
