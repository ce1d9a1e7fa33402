"""Covariates as plain columns beside levels (coach, bay), so that a sum over many rows costs its plain columns alone.

A level's columns hold one entry a row; written out they would make nine tenths of a design and of the time to fit it.
Not here: which covariates there are (covariates.py) and the fit (influence.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Levels:
    """Sum-to-zero columns of one set of levels, `count` - 1 of them.

    `code` (n,) from 0 below `count`; `sign` (n,) the row's entry: 1 or -1, 0 at the mean level.
    """

    code: Codes
    count: int
    sign: Floats

    @staticmethod
    def contrasts(sums: NDArray) -> Floats:
        """Sums by level (…, count) -> by column (…, count - 1): the last level is minus the sum of the others."""
        return np.asarray(sums[..., :-1] - sums[..., -1:])


@dataclass(frozen=True)
class Terms:
    """(n, p) covariates: `plain` (n, k) and the levels' columns after it."""

    plain: Floats
    levels: tuple[Levels, ...] = ()

    @property
    def width(self) -> int:
        """How many columns p."""
        return self.plain.shape[1] + sum(of.count - 1 for of in self.levels)

    def take(self, rows: Flags | Codes) -> Terms:
        """The same columns at some rows."""
        return Terms(self.plain[rows], tuple(Levels(of.code[rows], of.count, of.sign[rows]) for of in self.levels))

    def gram(self) -> Floats:
        """X'X (p, p)."""
        begins = np.cumsum([self.plain.shape[1], *(of.count - 1 for of in self.levels)])
        out = np.zeros((self.width, self.width))
        out[: begins[0], : begins[0]] = self.plain.T @ self.plain
        for i, one in enumerate(self.levels):
            mine = slice(begins[i], begins[i + 1])
            across = np.stack([np.bincount(one.code, column * one.sign, one.count) for column in self.plain.T])
            out[: begins[0], mine] = one.contrasts(across)
            for j, other in enumerate(self.levels[: i + 1]):
                both = np.bincount(
                    other.code * one.count + one.code, other.sign * one.sign, other.count * one.count
                ).reshape(other.count, one.count)
                out[begins[j] : begins[j + 1], mine] = other.contrasts(one.contrasts(both).T).T
        return np.triu(out) + np.triu(out, 1).T

    def weighted_sum(self, weight: Floats) -> Floats:
        """X'w (p,)."""
        sums = [of.contrasts(np.bincount(of.code, weight * of.sign, of.count)) for of in self.levels]
        return np.concatenate([weight @ self.plain, *sums])

    def times(self, beta: Floats) -> Floats:
        """X beta (n,)."""
        out, at = self.plain @ beta[: self.plain.shape[1]], self.plain.shape[1]
        for of in self.levels:
            mine = beta[at : at + of.count - 1]
            out = out + np.concatenate([mine, [-mine.sum()]])[of.code] * of.sign
            at += of.count - 1
        return np.asarray(out)

    def weighted_by(self, owner: Codes, owners: int, weight: Floats) -> Floats:
        """Sum of weight times X over each owner's rows (owners, p)."""
        plain = np.stack([np.bincount(owner, column * weight, owners) for column in self.plain.T], axis=1)
        parts = [np.asarray(plain, dtype=np.float64)]
        for of in self.levels:
            cell = np.bincount(owner * of.count + of.code, weight * of.sign, owners * of.count)
            parts.append(of.contrasts(cell.reshape(owners, of.count)))
        return np.concatenate(parts, axis=1)
