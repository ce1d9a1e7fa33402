"""PROFILES.md says every key of a profile, and every profile in it can be read."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from pydantic import BaseModel

import warehouse.landing
from warehouse.landing.profile import layout
from warehouse.landing.profile.column_source import ColumnSource
from warehouse.landing.profile.file_shape import FileShape
from warehouse.landing.profile.profile import Profile

DOCUMENT = (Path(warehouse.landing.__file__).parent / "PROFILES.md").read_text(encoding="utf-8")
MODELS = (FileShape, ColumnSource, layout.RowRules, layout.OutsideField, layout.Inbox, layout.InboxPlace)
GOES_WITH = {
    "decimal": {"delimiter": ";"}, "thousands": {"delimiter": ";", "decimal": ","}, 
    "sheets": {"format": "workbook"}, "rows_at": {"format": "json"},
    "converter": {"format": "converter"},
}  # fmt: skip
"""Keys that mean nothing without another."""
BLOCKS = re.findall(r"```toml\n(.*?)```", DOCUMENT, flags=re.DOTALL)


def keys(model: type[BaseModel]) -> set[str]:
    """Return the keys that a part of a profile may have, as they are written."""
    return {field.alias or name for name, field in model.model_fields.items()}


@pytest.mark.parametrize("model", MODELS)
def test_every_key_of_a_profile_is_in_the_document(model: type[BaseModel]) -> None:
    assert {key for key in keys(model) if f"`{key}`" not in DOCUMENT and f"`{key} = " not in DOCUMENT} == set()


@pytest.mark.parametrize("block", BLOCKS)
def test_every_profile_in_the_document_can_be_read(block: str) -> None:
    Profile.model_validate(tomllib.loads(block))


def test_every_example_in_the_tables_is_of_a_key_that_there_is() -> None:
    part, known = "", {"[file]": FileShape, "[rows]": layout.RowRules, "[inbox]": layout.Inbox}
    found = 0
    for line in DOCUMENT.splitlines():
        part = line.split("`")[1] if line.startswith("## `[") else "" if line.startswith("## ") else part
        example = re.search(r"\| `([^`]+)` \|$", line)
        if example and part in known:
            given = tomllib.loads(example[1])
            beside = {name: value for key in given for name, value in GOES_WITH.get(key, {}).items()}
            known[part].model_validate(beside | given)
            found += 1
    assert found > 20
