"""Profiles: TOML in, a checked model out, faults naming file and key."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.warehouse.landing.conftest import PLAIN
from warehouse.landing.profile import profile


def read(folder: Path, text: str | bytes) -> profile.Profile:
    path = folder / "profiles" / "x.toml"
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return profile.read(path)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (PLAIN.replace('"carry", unit = "m"', '"carry", unit = "yards"'),
         "profiles/x.toml: columns.carry.unit: 'yards' is not one of m, yd, ft, in, cm, mm"),
        (PLAIN.replace('"carry", unit = "m"', '"carry", unit = "mph"'), "columns.carry.unit: 'mph' is not one of m"),
        (PLAIN.replace('"carry", unit = "m"', '"carry"'), "columns.carry.unit: is missing"),
        (PLAIN.replace('"carry", unit = "m"', '"carry", unit = "m", positive = "left"'),
         "columns.carry.positive: 'left' does not fit"),
        (PLAIN + 'lateral = { from = "x", unit = "m", positive = "up" }\n',
         "columns.lateral.positive: 'up' is not one of right, left"),
        (PLAIN + 'speed = { from = "x", unit = "m" }\n', "columns.speed: is no shot column"),
        (PLAIN.replace('from = "club"', 'from = "club", map = { P = "putter" }'),
         "columns.club.map: 'putter' is not one of driver"),
        (PLAIN.replace('ball_speed = { from = "ball", unit = "m/s" }', ""),
         "columns.ball_speed: is required and not mapped"),
        (PLAIN.replace('from = "ball", unit', 'from = "ball", optional = true, unit'), "columns.ball_speed.optional"),
        ('[file]\nseparator = ";"\n' + PLAIN, "profiles/x.toml: file.separator: is no known key"),
        ('[file]\nskip_rows = "2"\n' + PLAIN, "file.skip_rows"),
        ('[file]\nformat = "xlsx"\n' + PLAIN, "file.format"),
        ('[file]\ntimezone = "Mars/Olympus"\n' + PLAIN, "file.timezone: 'Mars/Olympus' is neither"),
        ('[file]\nencoding = "klingon"\n' + PLAIN, "file.encoding: 'klingon' is no known encoding"),
        ('[file]\ndelimiter = ","\ndecimal = ","\n' + PLAIN, "decimal: is the same as the delimiter"),
        ('[file]\ntimestamp_format = "%Q"\n' + PLAIN, "file.timestamp_format"),
        ("a = 1\na = 2\n", "profiles/x.toml: is not TOML"),
        (b"\xff", "profiles/x.toml: is not UTF-8"),
    ],
)  # fmt: skip
def test_a_fault_names_file_and_key(tmp_path: Path, text: str | bytes, said: str) -> None:
    with pytest.raises(profile.ProfileError) as raised:
        read(tmp_path, text)
    assert said in str(raised.value)


def test_a_profile_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(profile.ProfileError, match=r"there is no profiles/y\.toml"):
        profile.read(tmp_path / "profiles" / "y.toml")


def test_every_way_toml_1_0_writes_a_table_reads_alike(tmp_path: Path) -> None:
    # TOML 1.0.0: dotted keys, quoted keys, literal strings, unicode escapes, standard tables and inline tables.
    dotted = """
columns.struck_at.from = 'time'
columns."club".from = "cl\\u0075b"
columns.ball_speed = { from = '''ball''', unit = "m/s" }
columns.launch_angle.from = "launch"
columns.launch_angle.unit = "deg"
[file]
delimiter = "\\t"
"""
    tables = """
[file]
delimiter = "\t"
[columns.struck_at]
from = "time"
[columns.club]
from = "club"
[columns.ball_speed]
from = "ball"
unit = "m/s"
[columns.launch_angle]
from = "launch"  # a remark
unit = "deg"
"""
    assert read(tmp_path, dotted) == read(tmp_path, "\ufeff" + tables)
