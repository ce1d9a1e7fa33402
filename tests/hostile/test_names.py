"""No name that may not be shown leaves the private folder: every file, command and event of a hostile night is read."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pytest

from tests.hostile.academy import HIDDEN, SHOWN, STRANGER
from tests.hostile.conftest import HostileNight, run
from tests.hostile.reading import bytes_hold, cells, names_in
from warehouse.privacy import withheld

EVERYBODY = (*HIDDEN, *SHOWN)
PRIVATE = {"raw.duckdb", "notebook.sqlite", withheld.FILE}
"""What files said, what people typed, and what the front office sets right: they hold names, for nobody else."""


def published(night: HostileNight, *, names: bool = True) -> Path:
    current = night.home.current.resolve()
    return current if names else night.home.without_names / current.name


def test_the_night_is_published_with_warnings_in_spite_of_every_name(hostile_night: HostileNight) -> None:
    assert hostile_night.code == 3, hostile_night.printed


def test_the_published_file_names_those_alone_who_agreed_and_only_in_their_own_row(
    hostile_night: HostileNight,
) -> None:
    found = {(place, name) for place, text in cells(published(hostile_night)) for name in names_in(text, EVERYBODY)}
    assert found == {("mart.student.name", name) for name in SHOWN}
    assert bytes_hold(published(hostile_night), HIDDEN) == set()


def test_the_file_without_names_holds_none_in_any_cell_or_byte(hostile_night: HostileNight) -> None:
    path = published(hostile_night, names=False)
    assert [(place, text) for place, text in cells(path) if names_in(text, EVERYBODY)] == []
    assert bytes_hold(path, EVERYBODY) == set()


def test_the_private_database_that_is_copied_holds_no_name_either(hostile_night: HostileNight) -> None:
    path = hostile_night.home.private / "warehouse.duckdb"
    assert bytes_hold(path, EVERYBODY) == set()


def test_no_log_no_event_no_last_word_and_no_alert_holds_a_name(hostile_night: HostileNight) -> None:
    home, read = hostile_night.home, 0
    for path in sorted(home.path.rglob("*")):
        inside = path.relative_to(home.path).parts
        if not path.is_file() or inside[0] == "landing" or inside[-1] in PRIVATE:
            continue
        if path.suffix == ".duckdb":
            continue
        read += 1
        lite = path.suffix == ".db"
        texts = [text for _, text in cells(path)] if lite else [path.read_text("utf-8", errors="replace")]
        assert [(path, text) for text in texts if names_in(text, EVERYBODY)] == []
    assert read > 4, "log, last word and Dagster's history are among them"


def test_what_the_command_prints_and_an_alert_is_told_holds_no_name(hostile_night: HostileNight) -> None:
    assert names_in(hostile_night.printed, EVERYBODY) == set()
    assert "refused" in hostile_night.printed
    if hostile_night.alerts.exists():
        assert names_in(hostile_night.alerts.read_text("utf-8"), EVERYBODY) == set()


def test_a_strangers_name_is_withheld_too(hostile_night: HostileNight) -> None:
    for names in (True, False):
        texts = cells(published(hostile_night, names=names))
        assert [text for _, text in texts if names_in(text, (STRANGER,))] == []
    assert names_in(hostile_night.printed, (STRANGER,)) == set()


def test_a_refused_cell_that_is_no_name_is_still_shown(hostile_night: HostileNight) -> None:
    with duckdb.connect(published(hostile_night), read_only=True) as opened:
        values = opened.execute("select distinct value from ops.rejected_row order by all").fetchall()
        counts = opened.execute(
            "select count(*) from ops.export_file as file join (select path, count(*) as kept from ops.rejected_row "
            "group by path) as rejected using (path) where file.rows_rejected <> rejected.kept"
        ).fetchone()
    assert {("Putter",), ("(withheld)",)} <= set(values)
    assert counts == (0,)


@pytest.mark.parametrize("command", ["doctor", "review"])
def test_a_command_prints_no_name(hostile_night: HostileNight, command: str) -> None:
    printed, _ = run(hostile_night.home, command)
    assert names_in(printed, HIDDEN) == set()
