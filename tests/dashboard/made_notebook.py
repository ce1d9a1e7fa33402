"""A home of its own for tests that write, its pages opened, and what its notebook then holds."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
from streamlit.testing.v1 import AppTest

from dashboard.shell import access
from tests.clock import PATIENCE, morning_zone
from warehouse.notebook.reading import read_entries
from warehouse.notebook.store import history, open_store

APP = Path(__file__).parents[2] / "dashboard" / "streamlit_app.py"
STUDENT, BAY = "S005", "B06"
ZONE = morning_zone()
"""Where a site is whose pages a server shows by its own clock."""


def own_home(home: Path, place: Path) -> Path:
    """Return a home to write into with what a made home published; whatever tests wrote into that one stays there."""
    shutil.copytree(home / "published", place / "home" / "published", symlinks=True)
    return place / "home"


def in_the_morning(home: Path) -> Path:
    """Let it be morning in a home of its own: what is entered there stays of one day while it is looked at."""
    with duckdb.connect(str((home / "published" / "current.duckdb").resolve())) as file:
        file.execute("update mart.bay set timezone = ?", [ZONE])
    return home


def opened(home: Path, page: str, monkeypatch: Any, **parameters: str) -> AppTest:
    """Open a page of a home with parameters in its address; it is made the first of the roles that have it."""
    monkeypatch.setenv("ACADEMY_HOME", str(home))
    for role, pages in access.PAGES_OF.items():
        if page in pages:
            rest = tuple(one for one in pages if one != page)
            monkeypatch.setitem(access.PAGES_OF, role, (page, *rest))
    app = AppTest.from_file(str(APP), default_timeout=PATIENCE)
    for key, value in parameters.items():
        app.query_params[key] = value
    return app.run()


def in_bay(home: Path, monkeypatch: Any, **parameters: str) -> AppTest:
    """Open the notebook in the bay, with the student chosen."""
    return opened(home, "notebook", monkeypatch, bay=BAY, student=STUDENT, **parameters)


def text_of(app: AppTest) -> str:
    """Return all text of a page."""
    kinds = [app.title, app.header, app.subheader, app.markdown, app.caption, app.warning, app.error]
    return "\n".join(str(element.value) for kind in kinds for element in kind)


def everything(app: AppTest) -> str:
    """Return all text of a page with its buttons and choices."""
    choices = [option for kind in (app.selectbox, app.pills) for one in kind for option in one.options]
    return "\n".join([text_of(app), *(one.label for one in app.button), *choices])


def tap(app: AppTest, label: str) -> AppTest:
    """Tap the button with this label."""
    found = [one for one in app.button if one.label == label]
    assert found, f"no button {label!r} among {[one.label for one in app.button]}"
    return found[0].click().run()


def widget(kind: Any, start: str) -> Any:
    """Return the widget whose key begins so."""
    return next(one for one in kind if str(one.key).startswith(start))


def url(home: Path) -> str:
    """Return the notebook of a home."""
    return f"sqlite:///{home / 'notebook.sqlite'}"


def entries(home: Path, table: str) -> pl.DataFrame:
    """Return a notebook's entries as the night reads them."""
    return read_entries(url(home))[table]


def all_entries(home: Path, table: str) -> pl.DataFrame:
    """Return every entry, those corrected or taken back too."""
    store = open_store(url(home))
    found = history(store, table)
    store.close()
    return found


def enter(here: Path, action: Any, **values: Any) -> str:
    """Enter something as another tablet would; return its id."""
    store = open_store(url(here))
    entry_id = action(store, by="another tablet", **values)
    store.close()
    return str(entry_id)
