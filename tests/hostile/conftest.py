"""One night of the hostile academy, run once by the command as an academy would, with an alert command that listens."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.hostile import academy
from warehouse.home import Home

EAR = "import sys, pathlib; pathlib.Path(sys.argv[1]).open('a').write(sys.stdin.read())"


@dataclass(frozen=True)
class HostileNight:
    """The home after its night, what the command printed, and how it ended."""

    home: Home
    printed: str
    code: int

    @property
    def alerts(self) -> Path:
        """Where the alert command wrote what it was told."""
        return self.home.path.with_name("alerts.jsonl")


def run(home: Home, *arguments: str) -> tuple[str, int]:
    """Run a command of the academy on a home; return all that it printed, and its exit code."""
    done = subprocess.run(
        [sys.executable, "-m", "pipelines", *arguments, "--home", str(home.path)],
        capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip
    return done.stdout + done.stderr, done.returncode


@pytest.fixture(scope="session")
def hostile_night(tmp_path_factory: pytest.TempPathFactory) -> HostileNight:
    """Make the academy and run its night."""
    home = Home(tmp_path_factory.mktemp("hostile") / "home")
    academy.make(home)
    command = json.dumps([sys.executable, "-c", EAR, str(home.path.with_name("alerts.jsonl"))])
    (home.path / "academy.toml").write_text(f"[alerts]\ncommand = {command}\n", "utf-8")
    return HostileNight(home, *run(home, "nightly"))
