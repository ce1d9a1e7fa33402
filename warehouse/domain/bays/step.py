"""A device that changed without a word: a step in a bay's level that all its students share, over all metrics at once.

Not here: drift, a slow change (`drift`), and what a bay adds before and after (`offsets`).
"""

from __future__ import annotations

from datetime import date
from typing import NamedTuple

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.bays.fit import hand_sign, with_epochs
from warehouse.schema.metrics import METRIC

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SWEEPS = 12
CLIP = 4.0
SHUFFLES = 199
BEYOND_LUCK = 1.3
"""How far past the largest of `SHUFFLES` shuffled orders of days a step must stand."""
BEYOND_DRIFT = 1.15
"""How much more a step must explain than a straight line over the same stretch: else it is drift."""
MIN_SESSIONS, MIN_STUDENTS, MIN_DAYS = 10, 5, 4
CLEAR, SIZE = 5.0, 0.5
"""Standard errors and smallest changes that matter by which one metric at least must have moved."""
MOST = 3
EDGE = 0.08
"""Share of a stretch's sessions that must lie on either side: nearer its ends a step is luck of a few days."""
SCHEMA = {"bay_id": pl.String, "on_date": pl.Date, "metrics": pl.Int64, "excess": pl.Float64}


class Stretch(NamedTuple):
    """Sessions of one bay between known recalibrations, in order of day: standardised residuals (n, metrics), NaN where
    not measured; day numbers and student codes (n,)."""

    residual: Floats
    day: Ints
    student: Ints


class Step(NamedTuple):
    """The first day after a step, how many metrics clearly moved, and how far it stands beyond luck (1: just)."""

    day: int
    metrics: int
    excess: float


def _table(sessions: pl.DataFrame) -> tuple[pl.DataFrame, list[str]]:
    """One row a student, club, bay and day, a column a metric, in the bay's own frame."""
    names = sessions["metric"].unique().sort().to_list()
    key = ["student_id", "club", "bay_id", "day", "week", "from_date"]
    turned = pl.concat(
        [
            part.with_columns(centre=pl.col("centre") * hand_sign(str(name)))
            for (name,), part in sessions.group_by(["metric"], maintain_order=True)
        ]
    )
    wide = turned.pivot("metric", index=key, values="centre", aggregate_function="mean")
    return wide.sort("bay_id", "day", "student_id", "club"), [name for name in names if name in wide.columns]


def _residual(y: Floats, *levels: Ints) -> Floats:
    """Take the means of several crossed levels out of y, NaN left out, by alternating projections."""
    known = np.isfinite(y)
    out = np.full(y.size, np.nan)
    if not known.any():
        return out
    r = y[known] - np.median(y[known])
    codes = [level[known] for level in levels]
    for _ in range(SWEEPS):
        for code in codes:
            r = r - (np.bincount(code, r) / np.maximum(np.bincount(code), 1))[code]
    spread = 1.4826 * float(np.median(np.abs(r - np.median(r))))
    out[known] = np.clip(r / spread, -CLIP, CLIP) if spread > 0 else 0.0
    return out


def _explained(residual: Floats, ends: Ints) -> tuple[Floats, Floats]:
    """Sum over metrics of squared standardised steps after each of `ends` sessions, and the standardised steps."""
    known = np.isfinite(residual)
    sums = np.cumsum(np.where(known, residual, 0.0), axis=0)
    count = np.cumsum(known, axis=0).astype(np.float64)
    before, n = sums[ends - 1], count[ends - 1]
    after, m = sums[-1] - before, count[-1] - n
    able = (n >= MIN_SESSIONS / 2) & (m >= MIN_SESSIONS / 2)
    with np.errstate(invalid="ignore", divide="ignore"):
        z = np.where(able, (after / m - before / n) / np.sqrt(1 / n + 1 / m), 0.0)
    return (z**2).sum(axis=1), z


def _by_line(of: Stretch) -> float:
    """What a straight line over the days explains, summed over metrics as steps are."""
    total = 0.0
    for column in of.residual.T:
        known = np.isfinite(column)
        t = of.day[known] - of.day[known].mean() if known.any() else np.zeros(0)
        room = float((t**2).sum())
        total += float((t * column[known]).sum()) ** 2 / room if room > 0 else 0.0
    return total


def find_in(of: Stretch, units: Floats, seed: int = 0) -> Step | None:
    """Look for one step in a stretch.

    Parameters
    ----------
    units : (metrics,) the smallest change that matters, in residual standard deviations.

    Notes
    -----
    The statistic is the greatest sum of squared standardised steps over all days; its luck is that of the same days in
    shuffled order (a day's sessions stay together: weather and balls are shared).
    """
    days, first = np.unique(of.day, return_index=True)
    if days.size < 2 * MIN_DAYS:
        return None
    ends = first[MIN_DAYS : -MIN_DAYS + 1] if MIN_DAYS > 1 else first[1:]
    least = max(MIN_SESSIONS, EDGE * of.day.size)
    ends = ends[(ends >= least) & (ends <= of.day.size - least)]
    ends = np.array([e for e in ends if min(np.unique(of.student[:e]).size, np.unique(of.student[e:]).size)
                     >= MIN_STUDENTS], dtype=np.int64)  # fmt: skip
    if not ends.size:
        return None
    explained, steps = _explained(of.residual, ends)
    best = int(np.argmax(explained))
    z, n = steps[best], ends[best]
    moved = np.abs(z) * np.sqrt(1 / n + 1 / (of.day.size - n))
    clear = (np.abs(z) > CLEAR) & (moved > SIZE * units)
    if not clear.any() or explained[best] < BEYOND_DRIFT * _by_line(of):
        return None
    rng = np.random.default_rng(seed)
    groups = np.split(np.arange(of.day.size), first[1:])
    luck = 0.0
    for _ in range(SHUFFLES):
        order = [groups[i] for i in rng.permutation(len(groups))]
        at = np.cumsum([g.size for g in order])[:-1]
        at = at[(at >= least) & (at <= of.day.size - least)]
        if at.size:
            luck = max(luck, float(_explained(of.residual[np.concatenate(order)], at)[0].max()))
        if luck * BEYOND_LUCK >= explained[best]:
            return None
    return Step(int(of.day[n]), int(clear.sum()), float(explained[best] / max(luck * BEYOND_LUCK, 1e-12)))


def find(sessions: pl.DataFrame, events: pl.DataFrame | None = None) -> pl.DataFrame:
    """Find the days on which a bay's device changed and nobody said so.

    Parameters
    ----------
    sessions, events : as of `offsets.fit`; `day` is needed.

    Returns
    -------
    polars.DataFrame
        `bay_id, on_date` (first day after the step), `metrics` that clearly moved, `excess` over luck.

    Notes
    -----
    Residuals of session centres from student x club, bay stretch and week (all bays), each metric standardised by its
    median absolute deviation. A bay's stretch is split at its step and both parts are searched again.
    """
    usable = sessions.filter(pl.col("centre").is_finite() & (pl.col("shots") > 0))
    found: list[dict[str, object]] = []
    if usable.is_empty() or usable["bay_id"].n_unique() < 2:
        return pl.DataFrame(schema=SCHEMA)
    steps: list[tuple[str, date]] = []
    for _ in range(MOST):
        known = pl.DataFrame(steps, schema={"bay_id": pl.String, "on_date": pl.Date}, orient="row")
        if events is not None:
            known = pl.concat([events.select("bay_id", pl.col("on_date").cast(pl.Date)), known])
        new = _search(with_epochs(usable, known))
        if not new:
            break
        for bay, step in new:
            on = date.fromordinal(date(1970, 1, 1).toordinal() + step.day)
            steps.append((bay, on))
            found.append({"bay_id": bay, "on_date": on, "metrics": step.metrics, "excess": step.excess})
    return pl.DataFrame(found, schema=SCHEMA).sort("bay_id", "on_date")


def _search(placed: pl.DataFrame) -> list[tuple[str, Step]]:
    """One step at most in every stretch."""
    wide, names = _table(placed)
    day = wide["day"].cast(pl.Date).to_physical().to_numpy().astype(np.int64)
    codes = {
        what: (wide.select(pl.struct(columns).rank("dense") - 1).to_series().to_numpy()).astype(np.int64)
        for what, columns in (
            ("group", ["student_id", "club"]), ("stretch", ["bay_id", "from_date"]), ("week", ["week"]),
            ("student", ["student_id"]),
        )
    }  # fmt: skip
    raw = np.column_stack([wide[name].cast(pl.Float64).fill_null(np.nan).to_numpy() for name in names])
    residual = np.column_stack([_residual(y, codes["group"], codes["week"], codes["stretch"]) for y in raw.T])
    spreads = np.array([_spread(y, r) for y, r in zip(raw.T, residual.T, strict=True)])
    units = np.array([METRIC[name].matters_from for name in names]) / spreads
    out = []
    for stretch in range(int(codes["stretch"].max()) + 1):
        rows = np.flatnonzero(codes["stretch"] == stretch)
        if rows.size < 2 * MIN_SESSIONS:
            continue
        step = find_in(Stretch(residual[rows], day[rows], codes["student"][rows]), units)
        if step is not None:
            out.append((str(wide["bay_id"][int(rows[0])]), step))
    return out


def _spread(y: Floats, r: Floats) -> float:
    """Standard deviation that one unit of a standardised residual stands for: slope of the raw values on it."""
    known = np.isfinite(y) & np.isfinite(r) & (np.abs(r) < CLIP)
    if known.sum() < 2 or float((r[known] ** 2).sum()) == 0:
        return 1.0
    return max(abs(float((r[known] * (y[known] - y[known].mean())).sum() / (r[known] ** 2).sum())), 1e-12)
