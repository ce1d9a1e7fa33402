"""The review is one file that needs nothing else, prints on two pages, and keeps minors and coaches out."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from browsing import print_page

from dashboard.handouts import week_review
from dashboard.shell.home_view import read_home
from dashboard.text import words


@pytest.fixture(scope="module")
def text(home: Path) -> str:
    """Return the review of the made file."""
    return week_review.render(read_home(home))


def test_the_review_refers_to_nothing_outside_itself(text: str) -> None:
    without_names = re.sub(r'xmlns(:\w+)?="[^"]*"', "", text)
    assert "http" not in without_names
    assert not re.search(r"<(script|link|img|iframe)\b", text)
    assert not re.search(r"url\((?!['\"]?#)", text)


def test_the_review_answers_in_sentences_with_svg_charts(text: str) -> None:
    assert "Of 6 comparisons (a cohort and a goal number)" in text
    assert "<b>Rod behind the ball</b> is best supported" in text
    assert text.count("<svg") == 4
    assert "Heavy club moves driver attack angle the wrong way and is still used 3 times a week." in text
    assert "All students this term: driver attack angle rose" in text
    assert words.NO_COACHES in text


def test_the_review_shows_a_minor_by_id(text: str) -> None:
    assert "Given0 Family0" not in text
    assert "luck alone would list at most about 1). (S000)" in text


def test_the_command_writes_the_file_and_says_where(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture) -> None:
    out = tmp_path / "review.html"
    assert week_review.main(["--home", str(home), "--out", str(out)]) == 0
    assert capsys.readouterr().out.strip() == str(out)
    assert out.read_text(encoding="utf-8").startswith("<!doctype html>")


def test_the_command_says_what_to_do_without_a_published_file(bare_home: Path, capsys: pytest.CaptureFixture) -> None:
    assert week_review.main(["--home", str(bare_home)]) == 2
    assert "academy nightly" in capsys.readouterr().err


def test_an_empty_file_gives_a_review_that_says_so(empty_home: Path) -> None:
    text = week_review.render(read_home(empty_home))
    assert words.EMPTY["cohort_change"] in text
    assert words.EMPTY["attention"] in text


def test_text_from_the_tables_is_escaped() -> None:
    assert week_review.paragraph("a <b> & **c**") == "<p>a &lt;b&gt; &amp; <b>c</b></p>"


def test_the_review_with_seven_things_to_attend_to_prints_on_two_a4_pages(text: str, tmp_path: Path) -> None:
    first = re.findall(r"<li>\d.*?</li>", text)[0]
    page = tmp_path / "review.html"
    page.write_text(text.replace(first, first * 5), encoding="utf-8")
    assert page.read_text(encoding="utf-8").count("<li>") >= 7
    out = tmp_path / "review.pdf"
    print_page(page, out)
    assert len(re.findall(rb"/Type\s*/Page[^s]", out.read_bytes())) == 2
