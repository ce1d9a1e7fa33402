"""Whole-number codes: how many differ, and the same codes without gaps. Not here: which labels get a code."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Codes = NDArray[np.int64]
SPARSE = 64
"""Codes up to this many times their number are counted in one array; past it, and for labels, they are sorted."""


def _countable(codes: NDArray) -> bool:
    whole = np.issubdtype(codes.dtype, np.integer)
    return bool(whole and codes.size and codes.min() >= 0 and codes.max() <= SPARSE * codes.size + SPARSE)


def distinct(codes: Codes) -> int:
    """How many codes from 0 differ."""
    return int(np.count_nonzero(np.bincount(codes)))


def numbered(labels: ArrayLike) -> tuple[NDArray, Codes, Codes]:
    """The distinct labels in order, each row's place among them, and how often each stands: as `np.unique`, faster."""
    codes = np.asarray(labels)
    if not _countable(codes):
        who, place, often = np.unique(codes, return_inverse=True, return_counts=True)
        return who, np.asarray(place), often
    often = np.bincount(codes)
    met = often > 0
    return np.flatnonzero(met), (np.cumsum(met) - 1)[codes], often[met]
