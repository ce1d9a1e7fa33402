"""The home folder: where everything that an academy keeps lies. Paths only."""

from __future__ import annotations

import os
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path


@dataclass(frozen=True)
class Home:
    """One academy's folder; a home that holds nothing but landing/ is valid."""

    path: Path

    @classmethod
    def find(cls, given: Path | None = None) -> Home:
        """Return the home given, else $ACADEMY_HOME, else ./academy_home."""
        return cls(Path(given or os.environ.get("ACADEMY_HOME") or "academy_home").absolute())

    @classmethod
    def named_in(cls, arguments: list[str]) -> Home:
        """Return the home that a command line names by `--home`, else as `find` does."""
        named = [given for option, given in pairwise(arguments) if option == "--home"]
        return cls.find(Path(named[-1]) if named else None)

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
    def without_names(self) -> Path:
        """The same files without names, by the same file names, and `current.duckdb`: for readers who see ids."""
        return self.path / "without_names"

    @property
    def last_run(self) -> Path:
        """What became of the last run, for every page to say."""
        return self.published / "last_run.json"

    def notebook_url(self, setting: str) -> str:
        """Return the notebook's SQLAlchemy URL: the setting, or SQLite in this folder."""
        return setting or f"sqlite:///{self.path / 'notebook.sqlite'}"
