"""A make learnt into a home: samples read, the proposal tried on them, the profile written.

Not here: how it is learnt (learn.py).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from warehouse.landing.exports import try_at_home
from warehouse.landing.learning import learn
from warehouse.landing.learning.learn import Learned

MOST = 0.9
"""Share of the samples' rows that a profile must load to be known."""
NAME = re.compile(r"[^\W_][\w.-]{0,60}")


@dataclass
class Proposed:
    """What a learnt profile came to.

    Attributes
    ----------
    learned
        The lines and questions.
    path
        Where it was written; None where nothing was.
    fault
        Why the profile cannot be used yet; None where it can.
    read, loaded
        Rows of the samples, and how many of them would load.
    lost
        Reasons of rows that would not load, with counts.
    wrong
        What shows that the profile reads them wrongly.
    """

    learned: Learned
    path: Path | None = None
    fault: str | None = None
    read: int = 0
    loaded: int = 0
    lost: dict[str, int] = field(default_factory=dict)
    wrong: list[str] = field(default_factory=list)

    @property
    def outcome(self) -> int:
        """Return the exit code: 0 all that is required is known, 3 questions left, 2 nothing learnt."""
        if self.learned.proposal is None:
            return 2
        return (
            3 if self.learned.proposal.to_ask or self.fault or self.loaded < MOST * self.read or not self.loaded else 0
        )


def propose(
    name: str, files: Sequence[Path], home: Path, *, answers: Sequence[str] = (), anew: bool = False
) -> Proposed:
    """Learn a make and write landing/profiles/NAME.toml.

    Raises
    ------
    ValueError
        The name cannot be a profile's, a file is not there, or what stands in the profile or in an answer cannot be
        read. Nothing is written then.
    """
    if not NAME.fullmatch(name) or name.endswith(".toml"):
        raise ValueError(f"'{name}' can be no profile's name: letters, digits, - and _, as bays.csv will have it")
    if absent := [str(file) for file in files if not file.exists()]:
        raise ValueError(f"there is no {absent[0]}")
    path = home / "landing" / "profiles" / f"{name}.toml"
    kept = learn.read_kept(None if anew else path, answers)
    done = Proposed(learn.learn(name, files, home=home, kept=kept))
    if done.learned.proposal is None:
        return done
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_suffix(".toml.part")
    beside.write_text(done.learned.toml, encoding="utf-8")
    beside.replace(path)
    done.path = path
    _try(done, path, files, home)
    return done


def _try(done: Proposed, path: Path, files: Sequence[Path], home: Path) -> None:
    """Try the profile on the samples as a night would read them."""
    tried = try_at_home.try_at_home(path, files, home)
    done.fault = tried.trial.fault
    summary = tried.summary
    done.read, done.loaded = summary.read - summary.duplicates, summary.loaded
    done.lost = {**dict.fromkeys(summary.refused, 0), **dict(summary.lost.most_common())}
    done.wrong = summary.wrong
