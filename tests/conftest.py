"""Which tests share a process: those of a folder whose fixtures are made once a session, else those of a file."""

from __future__ import annotations

from pathlib import Path

import pytest

TESTS = Path(__file__).parent
WHOLE_FOLDERS = ("demo_data", "fuzz", "pipelines", "pipelines/lakehouse", "pipelines/nights")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Name each test's group, by which they are given to the processes."""
    for item in items:
        path = item.path.relative_to(TESTS)
        folder = path.parent.as_posix()
        item.add_marker(pytest.mark.xdist_group(folder if folder in WHOLE_FOLDERS else path.as_posix()))
