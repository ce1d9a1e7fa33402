"""The home folder: where everything that an academy keeps lies. Paths only."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Home:
    """One academy's folder; a home that holds nothing but landing/ is valid."""

    path: Path

    @classmethod
    def find(cls, given: Path | None = None) -> Home:
        """Return the home given, else $ACADEMY_HOME, else ./academy_home."""
        return cls(Path(given or os.environ.get("ACADEMY_HOME") or "academy_home").absolute())

    @property
    def landing(self) -> Path:
        """What arrives; never written by the pipeline."""
        return self.path / "landing"

    @property
    def private(self) -> Path:
        """The pipeline's own databases and Dagster's instance."""
        return self.path / "warehouse"

    @property
    def published(self) -> Path:
        """Complete, audited files."""
        return self.path / "published"

    @property
    def current(self) -> Path:
        """The published file, a relative link to its version."""
        return self.published / "current.duckdb"

    @property
    def last_run(self) -> Path:
        """What became of the last run, for every page to say."""
        return self.published / "last_run.json"

    def notebook_url(self, setting: str) -> str:
        """Return the notebook's SQLAlchemy URL: the setting, or SQLite in this folder."""
        return setting or f"sqlite:///{self.path / 'notebook.sqlite'}"
