"""Which tests share a process: those of a folder whose fixtures are made once a session, else those of a file."""

from __future__ import annotations

from pathlib import PurePosixPath

import pytest
from xdist.scheduler import LoadScopeScheduling

import warehouse  # noqa: F401  before numpy is loaded: it says how many threads linear algebra takes

WHOLE_FOLDERS = {
    f"tests/{name}" for name in ("demo_data", "fuzz", "pipelines", "pipelines/lakehouse", "pipelines/nights")
}


class Together(LoadScopeScheduling):
    """Gives a process a folder's or a file's tests at once."""

    def _split_scope(self, nodeid: str) -> str:
        file = PurePosixPath(nodeid.split("::", 1)[0])
        folder = str(file.parent)
        return folder if folder in WHOLE_FOLDERS else str(file)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> Together:
    """Return who shares the tests out."""
    return Together(config, log)
