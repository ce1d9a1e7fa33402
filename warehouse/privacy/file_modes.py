"""What a home holds is its owner's alone: files 0600, folders 0700.

A folder of the landing folder that a group may write to is left as it is: somebody delivers there. Not here: what a
process makes from now on, which its mask of modes sees to (`keep_to_owner`).
"""

from __future__ import annotations

import os
import stat
from contextlib import suppress
from pathlib import Path

from warehouse.home import Home

OWNER_ONLY = 0o077
"""The mask of modes: nothing for group and others."""


def keep_to_owner() -> None:
    """Let this process, and those it starts, make files and folders for their owner alone."""
    os.umask(OWNER_ONLY)


def close_to_others(home: Home) -> int:
    """Take rights of group and others from all that a home holds; return of how many files and folders."""
    changed = 0
    for folder, folders, files in os.walk(home.path):
        here = Path(folder)
        if here.is_relative_to(home.landing) and os.stat(folder).st_mode & stat.S_IWGRP:
            folders.clear()
            continue
        changed += sum(_close(path) for path in (here, *(here / name for name in files)))
    return changed


def _close(path: Path) -> bool:
    with suppress(OSError):  # gone meanwhile, or somebody else's
        mode = stat.S_IMODE(path.lstat().st_mode)
        if mode & OWNER_ONLY and not path.is_symlink():
            path.chmod(mode & ~OWNER_ONLY)
            return True
    return False
