"""A trial's secret: 32 random bytes in a file that only this machine's user can read, opened when the trial is over.

It lies in the home folder, never in the notebook, never in what is published: pages and SQL cannot show it. Several
machines that enter participants of one trial need a copy each, taken there by hand. Not here: what it is used for.
"""

from __future__ import annotations

import os
import re
import secrets
from pathlib import Path

from warehouse.domain.trials.randomisation import LEAST_SECRET


class SecretMissing(FileNotFoundError):
    """No secret of this trial is on this machine; the message says what to do."""


def _path(home: Path, trial_id: str) -> Path:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}", trial_id):
        raise ValueError("a trial's id has letters, digits, - and _ only, 64 at most")
    return home / "trials" / f"{trial_id}.secret"


def make(home: Path, trial_id: str, known: bytes | None = None) -> bytes:
    """Make a trial's secret and return it.

    Parameters
    ----------
    known
        For an invented academy only, whose lots are to be the same each time it is made: a secret that somebody knows.
        No page and no command gives one; even who knows it cannot tell the lot of an entry not yet written.

    Raises
    ------
    FileExistsError
        There is one already; it is never overwritten.
    """
    path = _path(home, trial_id)
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    secret = known or secrets.token_bytes(LEAST_SECRET)
    with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="ascii") as file:
        file.write(secret.hex())
        file.flush()
        os.fsync(file.fileno())
    return secret


def read(home: Path, trial_id: str) -> bytes:
    """Return a trial's secret.

    Raises
    ------
    SecretMissing
        It is not on this machine.
    """
    try:
        return bytes.fromhex(_path(home, trial_id).read_text(encoding="ascii"))
    except FileNotFoundError as fault:
        raise SecretMissing(
            f"The secret of trial {trial_id} is not in this home; copy trials/{trial_id}.secret from where it was "
            "planned, or enter the student there."
        ) from fault
