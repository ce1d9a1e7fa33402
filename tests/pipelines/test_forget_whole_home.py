"""A person in a home that has run: not a byte stays in databases, versions, notebook, log or Dagster's history."""

from __future__ import annotations

import csv
import json
import shutil
import sqlite3
from contextlib import closing
from datetime import date, datetime
from pathlib import Path

import duckdb
import pytest

from tests.pipelines.killed_night import PUBLISHED, SAMPLE, night
from warehouse.erasure.erase import forget, held_on
from warehouse.home import Home
from warehouse.notebook import actions
from warehouse.notebook.store import open_store

WHO, NAME = "QX77Z", "Quillon Varndike"
BAY = "05"
"""Its device names nobody, so that its shots are a lesson's."""


def rewritten(path: Path, change) -> None:
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(change(rows))


def one_more(landing: Path) -> None:
    """Land one more student, who has the lessons of a bay, and a row that names the student in words."""
    tables = landing / "academy"
    rewritten(tables / "students.csv",
              lambda rows: [*rows, rows[0] | {"student_id": WHO, "name": NAME, "consent": "yes"}])  # fmt: skip
    rewritten(tables / "lessons.csv",
              lambda rows: [row | ({"student_id": WHO} if row["bay_id"] == BAY else {}) for row in rows])  # fmt: skip
    rewritten(tables / "observations.csv", lambda rows: [*rows, rows[0] | {"student_id": f"{WHO} of {NAME}"}])


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample, where one more student has the lessons of a bay; published, with a warning that names the student."""
    home = tmp_path_factory.mktemp("forgotten") / "home"
    shutil.copytree(SAMPLE / "landing", home / "landing")
    one_more(home / "landing")
    store = open_store(f"sqlite:///{home / 'notebook.sqlite'}")
    actions.set_goal(store, student_id=WHO, words=f"{NAME} hits it far", metric="carry", club_group="driver",
                     target=220, by="coach")  # fmt: skip
    actions.hold(store, student_id=WHO, drill_id="D01", until=date(2026, 6, 1), by="coach")
    actions.begin_drill(store, drill_id="D01", student_id=WHO, bay_id=BAY, starts_at=datetime(2026, 1, 6, 10), by="k1")
    actions.record_use(store, who="analyst", what="sql", detail=f"select * from mart.student where name = '{NAME}'")
    store.close()
    for _ in range(2):
        done = night(home)
        assert done.outcome in PUBLISHED, done.message
    shutil.copytree(home / "warehouse" / "scratch", home / "warehouse" / "scratch" / "left")
    (home / "warehouse" / "scratch" / "left" / "clean.csv").write_text(f"{WHO};1\n")
    return home


def holders(home: Path) -> set[str]:
    """Return the files outside landing whose bytes hold the id or the name, in UTF-8 or UTF-16."""
    words = [form for word in (WHO, NAME) for form in (word.encode(), word.encode("utf-16-le"))]
    files = (path for path in home.rglob("*") if path.is_file() and not path.is_symlink())
    return {
        str(path.relative_to(home))
        for path in files
        if home / "landing" not in path.parents and any(word in path.read_bytes() for word in words)
    }


def test_not_a_byte_stays_outside_the_landing_folder_which_is_named(ran: Path, tmp_path: Path) -> None:
    home = Path(shutil.copytree(ran, tmp_path / "home", symlinks=True))
    place = Home(home)
    with duckdb.connect(place.current.resolve(), read_only=True) as opened:
        assert opened.execute("select count(*) > 0 from core.shot where student_id = ?", [WHO]).fetchone() == (True,)
    (event_log,) = sorted(home.glob("warehouse/dagster/history/runs/*.db"))[:1]
    with closing(sqlite3.connect(event_log, isolation_level=None)) as opened:
        opened.execute("update event_logs set event = replace(event, 'nights', ?)", [f"nights of {WHO}"])
    # What an older program wrote down: this one withholds it.
    with (home / "warehouse" / "log" / "academy.jsonl").open("a", encoding="utf-8") as log:
        log.write(json.dumps({"event": "run ended", "why": f"observations.csv, student_id '{WHO} of {NAME}'"}) + "\n")
    last_run = home / "published" / "last_run.json"
    told = json.loads(last_run.read_text("utf-8"))
    assert not any(NAME in warning for warning in told["warnings"])
    last_run.write_text(json.dumps(told | {"message": f"{WHO} of {NAME} is unknown"}), "utf-8")
    before = holders(home)
    assert {"warehouse/log/academy.jsonl", "published/last_run.json", "notebook.sqlite", "warehouse/raw.duckdb",
            "warehouse/warehouse.duckdb", "warehouse/scratch/left/clean.csv",
            str(event_log.relative_to(home))} <= before  # fmt: skip
    assert len({path for path in before if path.startswith("published/2026")}) == 2

    said = forget(place, WHO)
    assert holders(home) == set()
    assert not any(NAME in line for line in said)
    assert any("landing/academy/students.csv still holds them" in line for line in said)
    assert any(line.startswith("backups and copies made before now") for line in said)
    assert held_on(place, WHO) == {}
    forget(place, WHO, rewrite_landing=True)
    held = [path for path in (home / "landing").rglob("*") if path.is_file() and WHO.encode() in path.read_bytes()]
    assert [path.name for path in held] == ["observations.csv"], "a row that says more than the id"

    done = night(home)
    assert done.outcome in PUBLISHED, done.message
    with duckdb.connect(place.current.resolve(), read_only=True) as opened:
        assert opened.execute("select count(*) from core.session where student_id = ?", [WHO]).fetchone() == (0,)


def test_consent_that_is_withdrawn_takes_effect_with_the_next_publication(ran: Path, tmp_path: Path) -> None:
    home = Path(shutil.copytree(ran, tmp_path / "home", symlinks=True))
    named = "select count(*) from mart.student where name = ?"
    with duckdb.connect((home / "published" / "current.duckdb").resolve(), read_only=True) as opened:
        assert opened.execute(named, [NAME]).fetchone() == (1,)
    rewritten(home / "landing" / "academy" / "students.csv",
              lambda rows: [row | ({"consent": "no"} if row["student_id"] == WHO else {}) for row in rows])  # fmt: skip
    done = night(home)
    assert done.outcome in PUBLISHED, done.message
    with duckdb.connect((home / "published" / "current.duckdb").resolve(), read_only=True) as opened:
        assert opened.execute(named, [NAME]).fetchone() == (0,)
        assert opened.execute("select name from mart.student where student_id = ?", [WHO]).fetchone() == (None,)
        of_theirs = "from core.drill_episode semi join (select unnest([?]) as student_id) using (student_id)"
        (episodes,) = opened.execute(f"select count(*) {of_theirs}", [WHO]).fetchone()
        excluded = opened.execute(
            f"select count(distinct episode_id) from core.episode_metric semi join (select episode_id {of_theirs}) "
            "using (episode_id) where excluded_reason = 'no consent'",
            [WHO],
        ).fetchone()
        assert episodes > 0 and excluded == (episodes,)
