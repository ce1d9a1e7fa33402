"""Whether what lies in the landing folder may be opened at all: a plain file that is really in it, by a name in words.

Not here: what is in the file.
"""

from __future__ import annotations

import stat
from pathlib import Path

SHOWN = 60


def misplaced(path: Path, landing: Path) -> str | None:
    """Return why a path may not be opened, with the remedy; None where it may, or where there is nothing.

    A link that leads out of the landing folder could make the pipeline tell any file of the machine; a pipe or a
    device is never read to its end.
    """
    try:
        if not path.resolve().is_relative_to(landing.resolve()):
            return "is a link that leads out of the landing folder: copy the file itself there"
        if not stat.S_ISREG(path.stat().st_mode):
            return "is no plain file: put the file itself there"
    except FileNotFoundError:
        return None
    except (OSError, RuntimeError, ValueError) as fault:
        return f"cannot be read ({in_words(getattr(fault, 'strerror', None) or str(fault))}): check links and rights"
    return None


def in_words(text: str, longest: int | None = None) -> str:
    """Return a name or value as it can be told and stored: no lone surrogates or control characters, not too long."""
    shown = "".join(letter if letter.isprintable() else "?" for letter in text)
    shown = shown.encode("utf-8", "replace").decode()
    return shown if longest is None or len(shown) <= longest else shown[: longest - 3] + "..."
