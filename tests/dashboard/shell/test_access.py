"""Who gets in: this machine without a login, other addresses only with one; roles, withheld names, lines of use."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import duckdb
import polars as pl
import pytest
from made_notebook import entries, everything, opened, own_home, tap, text_of
from streamlit import config

from dashboard.shell import access, anonymised_copy
from dashboard.shell.home_view import Home, read_home
from dashboard.text import access as words_access
from dashboard.text import notebook, trials, words
from warehouse.privacy import withheld
from warehouse.settings import settings

SETTINGS = """[access]
administrators = ["boss"]
directors = ["Head@academy.example"]
coaches = { "coach@academy.example" = "k1" }
analysts = ["numbers@academy.example"]
front_office = ["desk@academy.example"]
"""
LISTED = settings.Access(
    administrators=["boss"], directors=["Head@academy.example"], coaches={"coach@academy.example": "k1"},
    analysts=["numbers@academy.example"], front_office=["desk@academy.example"],
)  # fmt: skip
EMAIL_OF = {
    "director": "head@academy.example",
    "coach": "coach@academy.example",
    "analyst": "numbers@academy.example",
    "front office": "desk@academy.example",
}


@pytest.mark.parametrize("address", ["localhost", "127.0.0.1", "::1", "[::1]", "127.8.0.4"])
def test_an_address_of_this_machine_alone_needs_no_login(address: str) -> None:
    assert access.barrier(address, {}, login_set=False, login_installed=False) is None


@pytest.mark.parametrize("address", [None, "", "0.0.0.0", "::", "192.168.1.4", "tablet.example", "localhost.example"])
def test_any_other_address_is_refused_without_a_login(address: str | None) -> None:
    told = access.barrier(address, {}, login_set=False, login_installed=True)
    assert told is not None
    assert "has no login, so it shows nothing" in told


@pytest.mark.parametrize("header", ["X-Forwarded-For", "x-forwarded-for", "Forwarded", "x-real-ip"])
def test_a_request_passed_on_by_another_server_is_refused_without_a_login(header: str) -> None:
    told = access.barrier("localhost", {header: "203.0.113.9"}, login_set=False, login_installed=True)
    assert told == words_access.PASSED_ON


def test_a_login_that_is_set_is_asked_for_on_every_address_and_needs_its_package() -> None:
    assert access.barrier("0.0.0.0", {}, login_set=True, login_installed=True) is None
    assert access.barrier("localhost", {}, login_set=True, login_installed=False) == words_access.LOGIN_PACKAGE


@pytest.mark.parametrize(
    ("claims", "role"),
    [
        ({"sub": "boss"}, "administrator"),
        ({"sub": "1", "email": "HEAD@academy.example", "email_verified": True}, "director"),
        ({"sub": "2", "email": "coach@academy.example", "email_verified": True}, "coach"),
        ({"sub": "3", "email": "numbers@academy.example", "email_verified": "true"}, "analyst"),
        ({"sub": "4", "email": "desk@academy.example", "email_verified": True}, "front office"),
    ],
)
def test_a_role_comes_from_the_settings(claims: dict[str, Any], role: str) -> None:
    person = access.role_of(claims, LISTED)
    assert person is not None
    assert person.role == role
    assert person.coach_id == ("k1" if role == "coach" else None)


@pytest.mark.parametrize(
    "claims",
    [
        {"sub": "9", "email": "head@academy.example", "email_verified": False},
        {"sub": "9", "email": "head@academy.example"},
        {"sub": "head@academy.example"},
        {"sub": "", "email": "", "email_verified": True},
        {"sub": "BOSS"},
        {"sub": "9", "email": "boss", "email_verified": False},
        {"sub": "9", "email": "des\u212a@academy.example", "email_verified": True},
        {"sub": "9", "email": "head@academy.example ", "email_verified": True},
        {"sub": "9", "email": "HE\uff21D@academy.example", "email_verified": True},
        {"sub": "9", "email": "else@academy.example", "email_verified": True},
    ],
)
def test_an_unverified_e_mail_or_a_stranger_has_no_role(claims: dict[str, Any]) -> None:
    assert access.role_of(claims, LISTED) is None


def test_every_page_belongs_to_a_role_and_every_role_has_words() -> None:
    assert set(access.ALL) == {*words.PAGES, *notebook.PAGES, *trials.PAGES}
    assert set(access.PAGES_OF) == set(words_access.ROLES)
    assert not set(access.PAGES_OF["analyst"]) & {"notebook", "take_home"}
    assert access.PAGES_OF["front office"] == ("bays", "help")


def test_the_settings_file_explains_the_roles() -> None:
    text = settings.commented_toml()
    assert "[access]" in text
    assert "# coaches = {}" in text


@pytest.fixture
def here(home: Path, tmp_path: Path) -> Path:
    """Return a made home of its own, with roles."""
    place = own_home(home, tmp_path)
    (place / "academy.toml").write_text(SETTINGS, encoding="utf-8")
    return place


@pytest.fixture
def with_login(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a login be configured; who is logged in is for the test to say."""
    monkeypatch.setattr(access, "login_is_set", lambda: True)
    monkeypatch.setattr(access, "login_installed", lambda: True)
    monkeypatch.setattr(access, "claims", lambda: None)


def logged_in(monkeypatch: pytest.MonkeyPatch, email: str) -> None:
    """Log somebody in."""
    said = {"sub": "7", "email": email, "email_verified": True}
    monkeypatch.setattr(access, "claims", lambda: said)


def test_another_address_without_a_login_shows_a_refusal_and_no_student(
    home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    config.set_option("server.address", "0.0.0.0")
    try:
        app = opened(home, "students", monkeypatch)
    finally:
        config.set_option("server.address", "localhost")
    assert "listens on 0.0.0.0 and has no login" in app.error[0].value
    assert "Family" not in everything(app)


@pytest.mark.usefixtures("with_login")
def test_nobody_logged_in_sees_a_button_and_nothing_else(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = opened(here, "students", monkeypatch)
    assert [one.label for one in app.button] == [words_access.LOG_IN]
    assert "Family" not in everything(app)


@pytest.mark.usefixtures("with_login")
def test_a_login_without_a_role_is_told_what_to_ask_for(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    logged_in(monkeypatch, "else@academy.example")
    app = opened(here, "students", monkeypatch)
    assert "add your subject `7`" in app.error[0].value
    assert "Family" not in everything(app)


@pytest.mark.usefixtures("with_login")
@pytest.mark.parametrize(
    ("role", "page"),
    [
        ("front office", "students"),
        ("front office", "notebook"),
        ("coach", "sql"),
        ("analyst", "notebook"),
        ("analyst", "take_home"),
    ],
)
def test_a_page_of_another_role_is_not_shown_even_where_it_stood_open(
    role: str, page: str, here: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    questions = {**words.QUESTIONS, **notebook.QUESTIONS, **trials.QUESTIONS}
    logged_in(monkeypatch, EMAIL_OF["director"])
    app = opened(here, page, monkeypatch)
    assert app.title[0].value == questions[page]
    logged_in(monkeypatch, EMAIL_OF[role])
    app.run()
    assert questions[page] not in [one.value for one in app.title]
    with pytest.raises(ValueError, match="Could not find a navigation page"):
        app.switch_page(f"app_pages/{page}.py")


@pytest.mark.usefixtures("with_login")
def test_a_director_opens_every_page(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    logged_in(monkeypatch, EMAIL_OF["director"])
    questions = {**words.QUESTIONS, **notebook.QUESTIONS, **trials.QUESTIONS}
    for page in ("students", "notebook", "sql"):
        app = opened(here, page, monkeypatch)
        assert app.title[0].value == questions[page]
    assert "Logged in as head@academy.example, director." in text_of(app)


@pytest.mark.usefixtures("with_login")
def test_a_coach_sees_their_own_students_first(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with duckdb.connect(str((here / "published" / "current.duckdb").resolve())) as connection:
        connection.execute("update core.session set coach_id = case when student_id = 'S004' then 'k1' else 'k2' end")
    logged_in(monkeypatch, EMAIL_OF["coach"])
    app = opened(here, "students", monkeypatch)
    assert app.selectbox(key="choice-student").options[0] == "Given4 Family4"
    assert len(app.selectbox(key="choice-student").options) == 24


@pytest.mark.usefixtures("with_login")
def test_an_analyst_sees_ids_on_pages_and_no_name_by_sql(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    logged_in(monkeypatch, EMAIL_OF["analyst"])
    app = opened(here, "students", monkeypatch)
    assert "S003" in app.selectbox(key="choice-student").options
    assert "Family" not in everything(app)
    asked = "select count(*) as people, count(name) as names, stats(any_value(name)) as kept from mart.student"
    app = tap(opened(here, "sql", monkeypatch, sql=asked), words.SQL_RUN)
    found = app.dataframe[0].value
    assert (found["people"][0], found["names"][0]) == (24, 0)
    assert "Family" not in str(found)


def test_the_copy_without_names_keeps_every_row_and_can_be_looked_into_by_its_owner_only(published: str) -> None:
    path = Path(anonymised_copy.copy(published))
    assert path.parent.stat().st_mode & 0o077 == 0
    with duckdb.connect(str(path), read_only=True) as connection:
        assert connection.execute("select count(*), count(name) from mart.student").fetchone() == (24, 0)
        assert connection.execute("select count(words) from mart.goal").fetchone() == (0,)
        assert "Family" not in str(connection.execute("select stats(name) from mart.student").fetchall())
        shots = connection.execute("select count(*) from core.shot").fetchone()
    with duckdb.connect(published, read_only=True) as connection:
        assert connection.execute("select count(*) from core.shot").fetchone() == shots
    anonymised_copy.remove(str(path))
    anonymised_copy.copy.clear()


def test_a_reader_with_names_reads_the_published_file_itself(home: Path) -> None:
    found = read_home(home)
    assert access.for_reader(found, access.HERE) is found


def test_every_query_leaves_a_line_and_a_rerun_leaves_none(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = "select count(*) as drills from mart.drill"
    app = tap(opened(here, "sql", monkeypatch, sql=asked), words.SQL_RUN)
    app.run()
    assert entries(here, "usage").select("who", "what", "detail").rows() == [(words_access.HERE, "sql", asked)]
    tap(app, words.SQL_RUN)
    assert entries(here, "usage").height == 2


def test_a_download_leaves_a_line_before_it_is_given(here: Path) -> None:
    home = Home(here, None, {}, "imperial")
    assert access.given(home, "head@academy.example", "effects.csv", lambda: b"a") == b"a"
    rows = entries(here, "usage").select("who", "what", "detail").rows()
    assert rows == [("head@academy.example", "download", "effects.csv")]


def test_a_download_that_cannot_be_written_down_is_not_given(here: Path) -> None:
    (here / "notebook.sqlite").write_bytes(b"no database at all" * 99)
    with pytest.raises(Exception, match="not a database"):
        access.given(Home(here, None, {}, "imperial"), "head@academy.example", "effects.csv", b"a")


def test_an_administrator_is_shown_how_a_person_is_taken_out_and_a_director_is_not(
    here: Path, monkeypatch: pytest.MonkeyPatch, with_login: None
) -> None:
    logged_in(monkeypatch, EMAIL_OF["director"])
    app = opened(here, "help", monkeypatch)
    assert words_access.FORGET_TITLE not in text_of(app)
    assert not app.code
    monkeypatch.setattr(access, "login_is_set", lambda: False)
    app = opened(here, "help", monkeypatch)
    assert words_access.FORGET_TITLE in text_of(app)
    assert f"academy forget STUDENT_ID --rewrite-landing --home {here}" in app.code[0].value


@pytest.mark.usefixtures("with_login")
@pytest.mark.parametrize(("role", "seen"), [("front office", True), ("coach", False), ("director", False)])
def test_refused_cells_are_shown_as_they_came_to_the_front_office_alone(
    here: Path, monkeypatch: pytest.MonkeyPatch, role: str, seen: bool
) -> None:
    current = (here / "published" / "current.duckdb").resolve()
    with duckdb.connect(str(current), read_only=True) as connection:
        path, line = connection.execute(
            "select path, line from ops.rejected_row join ops.export_file as file using (path) "
            "order by file.night desc, path, line"
        ).fetchone()
    (here / "warehouse").mkdir(exist_ok=True)
    kept = {"path": [path], "line": [line], "path_as_it_is": [path], "value": ["Quillon Varndike"], "detail": [None]}
    pl.DataFrame(kept, schema=withheld.COLUMNS).write_parquet(here / "warehouse" / withheld.FILE)
    logged_in(monkeypatch, EMAIL_OF[role])
    app = opened(here, "bays", monkeypatch)
    assert not app.exception
    assert any("Quillon Varndike" in table.value.to_string() for table in app.dataframe) is seen


@pytest.mark.usefixtures("with_login")
def test_whoever_sees_no_names_reads_the_file_that_was_published_without_them(home: Path, tmp_path: Path) -> None:
    found = read_home(home)
    analyst, desk = access.Person("a", "analyst"), access.Person("d", "front office")
    copied = Path(shutil.copytree(home, tmp_path / "copied", symlinks=True))
    nameless = copied / "without_names" / Path(found.published or "").name
    nameless.parent.mkdir()
    shutil.copyfile(copied / "published" / nameless.name, nameless)
    own = read_home(copied)
    assert {access.for_reader(own, person).published for person in (analyst, desk)} == {str(nameless.resolve())}
    nameless.write_bytes(b"damaged")
    assert access.for_reader(own, analyst).published is None, "never the file with names in its place"
