"""Club names as people write them."""

from __future__ import annotations

import pytest

from warehouse.landing.cells.clubs import read_club
from warehouse.schema.metrics import CLUBS

GERMAN = {
    "Eisen": "iron",
    "Holz": "wood",
    "Driver": "driver",
    "Hybrid": "hybrid",
    "Holz 1": "driver",
    "SandW.": "wedge-sand",
}


@pytest.mark.parametrize(
    ("text", "club"),
    [
        ("driver", "driver"),
        ("DRIVER", "driver"),
        ("Dr", "driver"),
        ("1W", "driver"),
        ("1 Wood", "driver"),
        ("W1", "driver"),
        ("3w", "wood-3"),
        ("5 Wood", "wood-5"),
        ("Wood-7", "wood-7"),
        ("FW5", "wood-5"),
        ("3 fairway wood", "wood-3"),
        ("4h", "hybrid-4"),
        ("H4", "hybrid-4"),
        ("Hybrid 4", "hybrid-4"),
        ("Hy3", "hybrid-3"),
        ("7i", "iron-7"),
        ("7 iron", "iron-7"),
        ("Iron-7", "iron-7"),
        ("i7", "iron-7"),
        ("7-Iron", "iron-7"),
        ("IRON  7", "iron-7"),
        ("PW", "wedge-pitching"),
        ("p wedge", "wedge-pitching"),
        ("Pitching Wedge", "wedge-pitching"),
        ("GW", "wedge-gap"),
        ("Gap wedge", "wedge-gap"),
        ("SW", "wedge-sand"),
        ("Lob", "wedge-lob"),
        ("L-Wedge", "wedge-lob"),
        ("7", None),
        ("putter", None),
        ("wedge", None),
        ("iron", None),
        ("4w", None),
        ("0i", None),
        ("12 iron", None),
        ("7 iron wood", None),
        ("56", None),
        ("S", None),
        ("", None),
        ("7i 8i", None),
        ("driver 2", None),
        ("PW 9", None),
    ],
)
def test_a_name_is_read_whatever_its_case_and_order_and_an_unclear_one_is_none(text: str, club: str | None) -> None:
    assert read_club(text) == club


@pytest.mark.parametrize(
    ("text", "club"),
    [
        ("Eisen 7", "iron-7"),
        ("7er eisen", None),
        ("EISEN-9", "iron-9"),
        ("holz 5", "wood-5"),
        ("Holz 1", "driver"),
        ("sandw.", "wedge-sand"),
        ("7i", "iron-7"),
        ("Holzeisen 5", None),
    ],
)
def test_a_map_gives_whole_names_first_and_then_words(text: str, club: str | None) -> None:
    assert read_club(text, GERMAN) == club


@pytest.mark.parametrize("club", CLUBS)
def test_every_club_reads_its_own_name(club: str) -> None:
    assert read_club(club) == read_club(club.upper().replace("-", " ")) == club
