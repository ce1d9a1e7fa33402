"""A make learnt into a home: samples read, the proposal tried on them, the profile written.

Not here: how it is learnt (learn.py).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from warehouse.landing.exports import try_profile
from warehouse.landing.learning import learn
from warehouse.landing.learning.home_facts import read_home
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
    """

    learned: Learned
    path: Path | None = None
    fault: str | None = None
    read: int = 0
    loaded: int = 0
    lost: dict[str, int] = field(default_factory=dict)

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
    kept = learn.read_kept(path if not anew else path.with_name(""), answers)
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
    zones = read_home(home).zones
    whole = [one for file in files for one in (sorted(file.rglob("*")) if file.is_dir() else [file]) if one.is_file()]
    trial = try_profile.check_exports(path, whole, timezone=zones[0] if zones else "UTC")
    done.fault = trial.fault
    for file in trial.files:
        if file.refused:
            done.lost[f"{file.path.name}: {file.refused}"] = 0
            continue
        done.read += file.rows.read - file.rows.duplicate
        done.loaded += file.rows.loaded
        for row in file.rejected:
            reason = f"{row['reason']} in {row['column_name'] or 'the row'}"
            done.lost[reason] = done.lost.get(reason, 0) + 1
