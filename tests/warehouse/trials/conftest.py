"""A notebook of its own for each test of trials."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from warehouse.notebook.store import Store, open_store


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """Return an empty notebook."""
    opened = open_store(f"sqlite:///{tmp_path / 'notebook.sqlite'}")
    yield opened
    opened.close()
