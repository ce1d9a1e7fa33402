"""Homes on a lakehouse: the sample academy as several sites, and the same landing folder in one file."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.pipelines.killed_night import SAMPLE
from tests.postgres_server import PostgresServer, running_server
from warehouse.schema.registry import TABLES

FIRST_SITE = "low"
"""The sample's own site: an event names it."""


@pytest.fixture(scope="session")
def postgres() -> Iterator[PostgresServer]:
    """One server for all tests."""
    with running_server() as server:
        yield server


def rewrite(path: Path, rows: list[dict[str, str]]) -> None:
    """Write a table of the academy anew."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def as_sites(landing: Path, count: int) -> list[str]:
    """Share the sample's bays out among sites, the first bays one each, the rest to the last; return the sites."""
    academy = landing / "academy"
    with (academy / "sites.csv").open(encoding="utf-8", newline="") as file:
        (only,) = csv.DictReader(file)
    with (academy / "bays.csv").open(encoding="utf-8", newline="") as file:
        bays = list(csv.DictReader(file))
    names = [FIRST_SITE, *(f"site-{bay['bay_id']}" for bay in bays[1:count])]
    for at, bay in enumerate(bays):
        bay["site_id"] = names[min(at, count - 1)]
    rewrite(academy / "bays.csv", bays)
    rewrite(academy / "sites.csv", [only | {"site_id": name} for name in names])
    return names


def landed(home: Path, count: int = 6) -> Path:
    """Make a home that holds the sample's landing folder as several sites."""
    shutil.copytree(SAMPLE / "landing", home / "landing")
    as_sites(home / "landing", count)
    return home


def on_lakehouse(home: Path, catalog: str, schema: str = "academy") -> Path:
    """Write the section of academy.toml that moves a home to the lakehouse."""
    (home / "academy.toml").write_text(
        f'[lakehouse]\ncatalog = "{catalog}"\ncatalog_schema = "{schema}"\n', encoding="utf-8"
    )
    return home


def without_names(found: dict[str, list[tuple]]) -> dict[str, list[tuple]]:
    """Return rows as the lakehouse holds them: nobody's name is on it, the published file alone gives them."""
    at = TABLES["mart.student"].column_names.index("name")
    return {
        name: [(*row[:at], None, *row[at + 1 :]) for row in table] if name == "mart.student" else table
        for name, table in found.items()
    }
