"""A profile tried on files before it is trusted."""

from __future__ import annotations

from tests.warehouse.landing.conftest import HEADER, NIGHT, PLAIN, Academy, shot
from warehouse.landing.exports import try_profile


def test_a_trial_shows_columns_first_rows_and_every_rejection(academy: Academy) -> None:
    path = academy.export("01.csv", HEADER.replace("\n", ",temp\n") + shot(1) + shot(2, ball="x") + shot(1))
    done = try_profile.check_exports(
        academy.landing / "profiles" / "plain.toml", [academy.landing / "shots" / path], timezone="Asia/Tokyo"
    )
    (file,) = done.files
    assert done.fit
    assert (file.rows.read, file.rows.loaded, file.rows.rejected, file.rows.duplicate) == (3, 1, 1, 1)
    assert file.unused == ["temp"]
    assert {column.name: (column.source_unit, column.found) for column in file.columns}["carry"] == ("m", True)
    assert str(file.first_rows[0]["struck_at"]) == f"{NIGHT} 01:00:01"
    assert [(row["line"], row["column_name"], row["value"]) for row in file.rejected] == [(3, "ball_speed", "x")]


def test_a_trial_says_why_a_file_would_be_refused(academy: Academy) -> None:
    path = academy.export("01.csv", "nothing\n")
    done = try_profile.check_exports(academy.landing / "profiles" / "plain.toml", [academy.landing / "shots" / path])
    assert not done.fit
    assert "no column 'time'" in str(done.files[0].refused)


def test_a_trial_of_a_bad_profile_says_what_is_wrong(academy: Academy) -> None:
    academy.profile("bad", PLAIN.replace('"m/s"', '"knots"'))
    done = try_profile.check_exports(academy.landing / "profiles" / "bad.toml", [])
    assert not done.fit
    assert "columns.ball_speed.unit: 'knots' is not one of m/s" in str(done.fault)


def test_a_file_outside_any_night_is_held_to_none(academy: Academy) -> None:
    path = academy.landing.parent / "any.csv"
    path.write_text(HEADER + shot(90000))
    done = try_profile.check_exports(academy.landing / "profiles" / "plain.toml", [path])
    assert done.files[0].rows.loaded == 1


def test_a_trial_shows_what_an_export_says_of_the_air_and_only_then(academy: Academy) -> None:
    named = 'air_temperature = { from = "temp", unit = "degF" }\n'
    academy.profile("warm", PLAIN + named)
    path = academy.export("01.csv", HEADER.replace("\n", ",temp\n") + shot(1).replace("\n", ",68\n"))
    tried = {
        name: try_profile.check_exports(
            academy.landing / "profiles" / f"{name}.toml", [academy.landing / "shots" / path]
        )
        for name in ("warm", "plain")
    }
    (warm,), (plain,) = tried["warm"].files, tried["plain"].files
    assert warm.first_rows[0]["air_temperature"] == 20.0
    assert {column.name: column.unit for column in warm.columns}["air_temperature"] == "degC"
    assert "air_temperature" not in plain.first_rows[0]
    assert plain.unused == ["temp"]
