"""The review prints on two A4 pages, with as many things to attend to as are ever listed and long names in them."""

from __future__ import annotations

from pathlib import Path

import browsing
import duckdb
import pytest
from made_notebook import own_home
from pypdf import PdfReader

from dashboard.handouts import week_review
from dashboard.shell.home_view import read_home

A4 = (595, 842)
"""Points: ISO 216 A4, 210 by 297 mm, at 72 points an inch."""


def printed(home: Path, folder: Path) -> PdfReader:
    """Print a home's review to a PDF by the browser, as a person would."""
    page, pdf = folder / "review.html", folder / "review.pdf"
    page.write_text(week_review.render(read_home(home)), encoding="utf-8")
    browsing.print_page(page, pdf)
    return PdfReader(pdf)


@pytest.fixture
def busy(home: Path, tmp_path: Path) -> Path:
    """Return a home with forty things to attend to, two sentences of reasons each, and long names."""
    own = own_home(home, tmp_path)
    with duckdb.connect(str((own / "published" / "current.duckdb").resolve())) as file:
        columns = [row[0] for row in file.execute("describe mart.attention").fetchall()]
        picked = ", ".join("(rank + 3 * n)" if column == "rank" else column for column in columns)
        file.execute(f"create table more as select {picked} from mart.attention cross join range(1, 13) as t(n)")
        file.execute("insert into mart.attention select * from more")
        file.execute("drop table more")
        file.execute("update mart.student set name = name || ' Of-the-longest-family-name' where name is not null")
        file.execute("update mart.drill set name = name || ' with the second aid beside it'")
    return own


def test_the_review_prints_on_two_pages_of_a4(home: Path, tmp_path: Path) -> None:
    pdf = printed(home, tmp_path)
    assert [tuple(round(float(side)) for side in page.mediabox[2:]) for page in pdf.pages] == [A4, A4]


def test_the_review_of_a_busy_week_prints_on_two_pages_too(busy: Path, tmp_path: Path) -> None:
    pdf = printed(busy, tmp_path)
    assert len(pdf.pages) == 2
    said = "".join(page.extract_text() for page in pdf.pages)
    assert "with the second aid" in said
