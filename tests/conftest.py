"""Which tests share a process: those of a folder whose fixtures are made once a session, else those of a file.

The longest come first, so that no process is alone with them at the end.
"""

from __future__ import annotations

from pathlib import PurePosixPath

import pytest
from xdist.scheduler import LoadScopeScheduling

import warehouse  # noqa: F401  before numpy is loaded: it says how many threads linear algebra takes

WHOLE_FOLDERS = {
    f"tests/{name}" for name in ("demo_data", "fuzz", "pipelines", "pipelines/lakehouse", "pipelines/nights")
}
ROOMS_THAT_SHARE = {f"tests/pipelines/{name}": "tests/pipelines" for name in ("care", "cli", "graph", "runs")}
"""Rooms that use the fixtures of the folder above, made once for all."""
LONGEST = ("tests/pipelines/", "tests/dashboard/test_browser", "tests/dashboard/")
"""How the paths of the longest begin, the longest first."""


class Together(LoadScopeScheduling):
    """Gives a process a folder's or a file's tests at once."""

    def _split_scope(self, nodeid: str) -> str:
        file = PurePosixPath(nodeid.split("::", 1)[0])
        folder = ROOMS_THAT_SHARE.get(str(file.parent), str(file.parent))
        return folder if folder in WHOLE_FOLDERS else str(file)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> Together:
    """Return who shares the tests out."""
    return Together(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest first."""

    def place(item: pytest.Item) -> int:
        return next((n for n, begins in enumerate(LONGEST) if item.nodeid.startswith(begins)), len(LONGEST))

    items.sort(key=place)
