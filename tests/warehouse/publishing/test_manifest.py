"""A published version is read only as it was published; where the newest is not, the newest good one is."""

from __future__ import annotations

import json
import os
import stat
from pathlib import Path

import duckdb
import pytest

from warehouse.build.run import make_table
from warehouse.connection import private
from warehouse.home import Home
from warehouse.publishing import manifest, publish
from warehouse.publishing.manifest import Damaged, good_version

NEEDED = ("ops.night", "ops.publication", "core.session", "core.drill_episode", "mart.dictionary", "ops.run_step")


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """A home that published twice."""
    made = Home(tmp_path / "home")
    with private(made) as connection:
        for name in NEEDED:
            make_table(connection, name)
        connection.execute("insert into ops.night values ('2026-03-02', 'f', 40)")
        publish.publish(connection, made, 1, [], 7)
        publish.publish(connection, made, 1, [], 7)
    return made


def newest(home: Home) -> tuple[Path, Path]:
    """Return the two versions, the newer first."""
    first, second = publish.versions(home)
    return first.resolve(), second.resolve()


def flip(path: Path, at: int) -> None:
    """Change one byte, and keep the file's time."""
    before = path.stat()
    with path.open("r+b") as file:
        file.seek(at)
        byte = file.read(1)
        file.seek(at)
        file.write(bytes([byte[0] ^ 1]))
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))


def test_the_current_version_is_good_and_its_manifest_tells_file_code_and_inputs(home: Home) -> None:
    current, _ = newest(home)
    assert good_version(home) == manifest.GoodVersion(current)
    told = json.loads(manifest.manifest_of(current).read_text())
    assert told["sha256"] == manifest.hash_of(current) and told["bytes"] == current.stat().st_size
    assert told["code"]["duckdb"] == duckdb.__version__ and len(told["code"]["sha256"]) == 64
    assert len(told["inputs"]["sha256"]) == 64


def test_the_key_is_its_owners_alone(home: Home) -> None:
    assert stat.S_IMODE((home.private / "signing.key").stat().st_mode) == 0o600


@pytest.mark.parametrize("share", [0.0, 0.5, 0.999])
def test_a_truncated_file_is_passed_over_for_the_last_good_one(home: Home, share: float) -> None:
    current, before = newest(home)
    os.truncate(current, int(current.stat().st_size * share))
    found = good_version(home)
    assert found.path == before
    assert found.damaged[0].name == current.name and "bytes where" in found.damaged[0].why


def test_one_bit_that_turned_is_noticed_also_after_the_file_was_good_once(home: Home) -> None:
    current, before = newest(home)
    assert good_version(home).path == current
    flip(current, current.stat().st_size // 2)
    found = good_version(home)
    assert (found.path, found.damaged) == (before, (Damaged(current.name, "its content is not what was published"),))


def test_a_manifest_that_somebody_else_wrote_is_none(home: Home, tmp_path: Path) -> None:
    current, before = newest(home)
    flip(current, 20_000)
    other = Home(tmp_path / "other")
    other.published.mkdir(parents=True)
    copied = other.published / current.name
    copied.write_bytes(current.read_bytes())
    forged = manifest.sign(other, copied, {})
    manifest.manifest_of(current).write_bytes(forged.read_bytes())
    found = good_version(home)
    assert found.path == before and "not signed by this home" in found.damaged[0].why


def test_another_versions_manifest_is_none_and_a_missing_or_broken_one_neither(home: Home) -> None:
    current, before = newest(home)
    beside = manifest.manifest_of(current)
    for content, why in ((manifest.manifest_of(before).read_bytes(), "another file's"), (b"{", "cannot be read"),
                         (b"[" * 100_000, "cannot be read"), (b'{"signature": 5}', "cannot be read")):  # fmt: skip
        beside.write_bytes(content)
        found = good_version(home)
        assert found.path == before and why in found.damaged[0].why
    beside.unlink()
    assert good_version(home).damaged == (Damaged(current.name, "has no manifest"),)


def test_a_link_that_leads_nowhere_or_is_gone_gives_the_newest_good_version(home: Home) -> None:
    current, before = newest(home)
    home.current.unlink()
    assert good_version(home) == manifest.GoodVersion(current)
    home.current.symlink_to("gone.duckdb")
    assert good_version(home) == manifest.GoodVersion(current, (Damaged("gone.duckdb", "is not there"),))
    current.unlink()
    assert good_version(home).path == before


def test_where_nothing_is_good_none_is_given_and_said(home: Home) -> None:
    for version in newest(home):
        os.truncate(version, 100)
    found = good_version(home)
    assert found.path is None and len(found.damaged) == 2
    assert "no older one is good" in (manifest.in_words(found) or "")
    assert good_version(Home(home.path / "empty")) == manifest.GoodVersion(None)


def test_a_home_that_never_signed_is_read_as_long_as_its_file_opens(home: Home) -> None:
    for path in (*home.published.glob("*.json"), *home.private.glob("signing.*")):
        path.unlink()
    current, before = newest(home)
    assert good_version(home).path == current
    os.truncate(current, 5000)
    found = good_version(home)
    assert found.path == before and "cannot be opened" in found.damaged[0].why


def test_a_manifest_goes_with_its_version(home: Home) -> None:
    with private(home) as connection:
        version = publish.publish(connection, home, 1, [], 1)
    assert sorted(path.name for path in home.published.iterdir()) == sorted(
        [version.name, manifest.manifest_of(version).name, "current.duckdb"]
    )


def test_a_version_changed_by_this_program_is_signed_again_and_a_damaged_one_is_not(home: Home) -> None:
    current, before = newest(home)
    with manifest.still_signed(home, current):
        current.write_bytes(current.read_bytes() + b"x")
    assert good_version(home) == manifest.GoodVersion(current)
    flip(before, 9000)
    with manifest.still_signed(home, before):
        before.write_bytes(before.read_bytes() + b"x")
    assert manifest.fault(home, before) is not None
