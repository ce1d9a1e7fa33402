"""Publishing: one rename, readers never see half a file, old versions kept by the rule."""

from __future__ import annotations

import errno
import json
from datetime import UTC, date, datetime
from pathlib import Path

import duckdb
import pytest

from warehouse.build.run import make_table
from warehouse.connection import HomeIsBusy, only_run, open_published, private
from warehouse.home import Home
from warehouse.publishing import publish
from warehouse.schema import entered, raw

NEEDED = ("ops.night", "ops.publication", "core.session", "core.drill_episode", "mart.dictionary", "ops.run_step")
"""Tables that a publication counts in or looks at."""


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """A home whose private database holds empty tables and two nights."""
    made = Home(tmp_path / "home")
    with private(made) as connection:
        for name in NEEDED:
            make_table(connection, name)
        connection.execute("insert into ops.night values ('2026-03-02', 'f', 40), ('2026-03-03', 'f', 60)")
    return made


def published(home: Home, keep: int = 7, warnings: tuple[str, ...] = ()) -> Path:
    """Publish and return the version."""
    with private(home) as connection:
        return publish.publish(connection, home, 2, list(warnings), keep)


def test_current_is_a_relative_link_to_the_version_named_by_its_last_night(home: Home) -> None:
    version = published(home)
    assert home.current.readlink() == Path(version.name)
    assert version.name.startswith("2026-03-03_")
    assert sorted(path.name for path in home.published.iterdir()) == sorted(
        [version.name, f"{version.stem}.manifest.json", "current.duckdb"]
    )


def test_a_publication_is_a_row_of_its_own_in_the_file_and_stays_in_the_next(home: Home) -> None:
    published(home, warnings=("one", "two"))
    published(home)
    with open_published(home.current) as opened:
        told = opened.execute(
            "select through_night, nights, shots, nights_built, warnings from ops.publication order by published_at"
        ).fetchall()
    assert told == [(date(2026, 3, 3), 2, 100, 2, "one\ntwo"), (date(2026, 3, 3), 2, 100, 2, "")]


def test_versions_beyond_those_kept_are_removed_oldest_first(home: Home) -> None:
    made = [published(home, keep=3) for _ in range(5)]
    assert publish.versions(home) == made[:1:-1]
    assert home.current.resolve() == made[-1]


def test_the_current_version_is_never_removed(home: Home) -> None:
    first, second, third = (published(home) for _ in range(3))
    publish.swing(home, first)
    publish.prune(home, keep=1)
    assert sorted(publish.versions(home)) == sorted([first, third])
    assert not second.exists()


def test_a_reader_that_has_the_old_file_open_goes_on_reading_it(home: Home) -> None:
    published(home)
    with open_published(home.current) as reader:
        with private(home) as connection:
            connection.execute("insert into ops.night values ('2026-03-04', 'f', 1)")
        published(home, keep=2)
        published(home, keep=2)
        assert reader.execute("select count(*) from ops.night").fetchone() == (2,)
    with open_published(home.current) as reader:
        assert reader.execute("select count(*) from ops.night").fetchone() == (3,)


def test_a_copy_that_fails_leaves_the_old_file_current_and_no_row_of_it(home: Home, monkeypatch) -> None:
    version = published(home)

    def full(source: Path, target: Path) -> None:
        target.write_bytes(source.read_bytes()[:4096])
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(publish, "copy", full)
    with pytest.raises(OSError, match="No space"):
        published(home)
    assert home.current.resolve() == version
    assert list(home.published.glob("*incoming*")) == []
    with private(home) as connection:
        assert connection.execute("select count(*) from ops.publication").fetchone() == (1,)


def test_what_a_killed_run_left_is_cleared(home: Home) -> None:
    home.published.mkdir()
    (home.published / "2026-03-01_20260302T000000000000.incoming").write_bytes(b"half")
    (home.published / ".current.123").symlink_to("gone.duckdb")
    version = published(home)
    assert sorted(path.name for path in home.published.iterdir()) == sorted(
        [version.name, f"{version.stem}.manifest.json", "current.duckdb"]
    )


def test_a_published_file_cannot_be_written_by_a_reader(home: Home) -> None:
    published(home)
    with open_published(home.current) as reader, pytest.raises(duckdb.Error):
        reader.execute("delete from ops.night")


def test_macros_for_units_work_in_the_published_file(home: Home) -> None:
    """1 mile = 1609.344 m, 1 yd = 0.9144 m (international yard and pound agreement of 1959)."""
    published(home)
    with open_published(home.current) as reader:
        (found,) = reader.execute("select mph(1609.344 / 3600), kmh(1::double), yd(0.9144)").fetchall()
    assert found == pytest.approx((1, 3.6, 1))


def test_the_last_run_is_told_in_one_file_with_the_moment(tmp_path: Path) -> None:
    home = Home(tmp_path)
    publish.tell_last_run(home, "not published", None, "why", ["a warning"])
    told = json.loads(home.last_run.read_text(encoding="utf-8"))
    assert abs((datetime.now(UTC) - datetime.fromisoformat(told.pop("finished_at"))).total_seconds()) < 60
    assert told == {"outcome": "not published", "through_night": None, "message": "why", "warnings": ["a warning"]}
    assert [path.name for path in home.published.iterdir()] == ["last_run.json"]


def test_a_home_is_held_by_one_run_and_let_go_after_it(tmp_path: Path) -> None:
    home = Home(tmp_path)
    with only_run(home), pytest.raises(HomeIsBusy, match="another run is at work"), only_run(home):
        pass
    with only_run(home):
        pass


def test_on_a_full_disk_the_last_run_is_told_over_the_one_before(home: Home, monkeypatch: pytest.MonkeyPatch) -> None:
    publish.tell_last_run(home, "published", "2026-03-03", "published through 2026-03-03", ["a" * 3000])
    size = home.last_run.stat().st_size

    def full(self: Path, *_: object, **__: object) -> int:
        self.touch()
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    publish.tell_last_run(home, "not published", None, "no room " * 500, ["w"] * 900)
    told = json.loads(home.last_run.read_bytes())
    assert (told["outcome"], told["warnings"]) == ("not published", ["900 warnings; no room here"])
    assert told["message"].startswith("no room") and home.last_run.stat().st_size <= size
    assert [path.name for path in home.published.iterdir()] == ["last_run.json"]


def test_a_publication_lies_twice_with_the_names_of_those_who_agreed_and_without_any(home: Home) -> None:
    with private(home) as connection:
        for name in ("mart.student", "mart.goal"):
            make_table(connection, name)
        for table in (raw.STUDENT, raw.COACH, entered.GOAL):
            connection.execute(table.ddl())
        for who, name, consent in (("S1", "Ravi Sandhu", "yes"), ("S2", "Mia Lindqvist", "no")):
            connection.execute(
                "insert into raw.student by name select ? as student_id, ? as name, ? as consent", [who, name, consent]
            )
            connection.execute("insert into mart.student by name select ? as student_id", [who])
        connection.execute(
            "insert into raw.goal by name select 'S1' as student_id, 'hit it far' as words, "
            "now()::timestamp as entered_at"
        )
        connection.execute("insert into mart.goal by name select 'S1' as student_id")
    version = published(home)
    nameless = home.without_names / version.name
    asked = "select student_id, name, (select words from mart.goal) from mart.student order by all"
    with open_published(home.current) as opened:
        assert opened.execute(asked).fetchall() == [("S1", "Ravi Sandhu", "hit it far"), ("S2", None, "hit it far")]
    with open_published(home.without_names / "current.duckdb") as opened:
        assert opened.execute(asked).fetchall() == [("S1", None, None), ("S2", None, None)]
    assert b"Ravi" in version.read_bytes() and b"Ravi" not in nameless.read_bytes()
    assert b"Lindqvist" not in version.read_bytes()
    third = [published(home, keep=1) for _ in range(2)][-1]
    assert [path.name for path in sorted(home.without_names.glob("*.duckdb"))] == [third.name, "current.duckdb"]
