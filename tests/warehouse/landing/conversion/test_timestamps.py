"""Times against ISO 8601 and the IANA zones across clock changes."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from tests.warehouse.landing.conftest import PLAIN, Academy


def struck(
    academy: Academy, said: list[str], shape: str = "", zone: str = "Europe/Lisbon", night: str = "2024-02-19"
) -> list:
    academy.table("sites", f"site_id,name,timezone,altitude_m\nN,North,{zone},12\n")
    academy.profile("plain", f"[file]\ndelimiter = ';'\n{shape}\n" + PLAIN)
    body = "".join(f"{text};007;driver;60;12;200\n" for text in said)
    academy.export("01.csv", "time;who;club;ball;launch;carry\n" + body, night=night)
    academy.night()
    return academy.rows("select struck_at::varchar, struck_at_local::varchar from raw.shot order by line")


@pytest.mark.parametrize(
    ("said", "utc"),
    [
        ("2024-02-19T10:30:00Z", "2024-02-19 10:30:00"),
        ("2024-02-19T10:30:00+05:45", "2024-02-19 04:45:00"),
        ("2024-02-19T10:30:00-0330", "2024-02-19 14:00:00"),
        ("2024-02-19T10:30:00+02", "2024-02-19 08:30:00"),
        ("2024-02-19T10:30:00.250Z", "2024-02-19 10:30:00.25"),
        ("2024-02-19T10:30:00,250Z", "2024-02-19 10:30:00.25"),
        ("2024-02-19T10:30Z", "2024-02-19 10:30:00"),
        ("2024-02-19 10:30:00", "2024-02-19 10:30:00"),
        ("20240219T103000", "2024-02-19 10:30:00"),
    ],
)
def test_iso_8601_reads_as_its_examples_mean(academy: Academy, said: str, utc: str) -> None:
    # Lisbon keeps UTC in February, so the site's local time is UTC here.
    assert struck(academy, [said]) == [(utc, utc)]


@pytest.mark.parametrize("shape", ["", 'timestamp_format = "%Y.%m.%d %H:%M:%S"'])
@pytest.mark.parametrize(
    "said", ["2024-02-19", "infinity", "epoch", "2024-02-30T10:00:00", "10:30", "19/02/2024 10:30"]
)
def test_what_is_no_full_time_is_unparsable(academy: Academy, said: str, shape: str) -> None:
    assert struck(academy, [said], shape) == []
    assert academy.faults() == [(2, "struck_at", said, "unparsable")]


@pytest.mark.parametrize(
    ("zone", "night", "hour"),
    [
        ("America/New_York", "2024-03-10", 1), ("America/New_York", "2024-03-10", 3),
        ("America/New_York", "2024-11-03", 0), ("America/New_York", "2024-11-03", 2),
        ("Europe/Lisbon", "2024-03-31", 0), ("Europe/Lisbon", "2024-03-31", 2),
        ("Australia/Lord_Howe", "2024-04-07", 0), ("Australia/Lord_Howe", "2024-04-07", 2),
        ("Asia/Kathmandu", "2024-02-19", 10),
    ],
)  # fmt: skip
def test_local_times_around_a_clock_change_agree_with_the_iana_zones(
    academy: Academy, zone: str, night: str, hour: int
) -> None:
    local = dt.datetime.fromisoformat(f"{night}T{hour:02d}:45:00")
    utc = local.replace(tzinfo=ZoneInfo(zone)).astimezone(dt.UTC)
    assert struck(academy, [local.isoformat()], zone=zone, night=night) == [
        (f"{utc:%Y-%m-%d %H:%M:%S}", f"{local:%Y-%m-%d %H:%M:%S}")
    ]


def test_the_repeated_hour_without_offset_is_its_second_pass_and_with_one_is_either(academy: Academy) -> None:
    said = ["2024-11-03T01:30:00", "2024-11-03T01:30:00-04:00", "2024-11-03T01:30:00-05:00"]
    assert [utc for utc, _ in struck(academy, said, zone="America/New_York", night="2024-11-03")] == [
        "2024-11-03 06:30:00",
        "2024-11-03 05:30:00",
        "2024-11-03 06:30:00",
    ]


def test_a_file_in_utc_is_held_to_its_night_by_the_sites_date(academy: Academy) -> None:
    said = ["2024-02-19T14:59:59", "2024-02-19T15:00:00", "2024-02-18T15:00:00"]
    assert struck(academy, said, 'timezone = "UTC"', zone="Asia/Tokyo") == [
        ("2024-02-19 14:59:59", "2024-02-19 23:59:59"),
        ("2024-02-18 15:00:00", "2024-02-19 00:00:00"),
    ]
    assert academy.faults() == [(3, "struck_at", "2024-02-19T15:00:00", "outside its night")]


def test_a_file_in_a_zone_of_its_own_is_taken_from_there(academy: Academy) -> None:
    said = ["19.02.2024 03:30:00"]
    shape = 'timezone = "America/New_York"\ntimestamp_format = "%d.%m.%Y %H:%M:%S"'
    assert struck(academy, said, shape, zone="Asia/Tokyo") == [("2024-02-19 08:30:00", "2024-02-19 17:30:00")]


def test_an_offset_in_the_format_overrides_the_zone(academy: Academy) -> None:
    shape = 'timestamp_format = "%Y/%m/%d %H:%M:%S %z"'
    said = ["2024/02/19 10:00:00 +02:00", "2024/02/19 10:00:00 Z"]
    assert [utc for utc, _ in struck(academy, said, shape)] == ["2024-02-19 08:00:00", "2024-02-19 10:00:00"]
