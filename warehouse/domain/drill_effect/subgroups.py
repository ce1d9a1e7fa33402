"""For students like this one: does a drill's effect differ by handicap, hand, starting gap or age?

One interaction model a drill, all characteristics at once, errors by student, false discoveries controlled over every
question asked. Not here: the effect itself (drill_effect.py).
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from warehouse.domain.drill_effect import aims, regression
from warehouse.domain.drill_effect.aims import Aim, oriented
from warehouse.domain.drill_effect.drill import Matters
from warehouse.domain.drill_effect.verdict import INTERVAL_STUDENTS, Q_LIMIT, VERDICT_STUDENTS, interval
from warehouse.domain.statistics import false_discovery

Floats = NDArray[np.float64]

HANDICAP_BANDS = (10.0, 20.0, 30.0)
AGE_BANDS = (18.0, 35.0, 55.0)
CHARACTERISTICS = ("handicap", "handed", "starting gap", "age")

SCHEMA: dict[str, Any] = {
    "drill_id": pl.String, "metric": pl.String, "measure": pl.String, "club_group": pl.String,
    "characteristic": pl.String, "level": pl.String, "episodes": pl.Int64, "students": pl.Int64,
    "effect": pl.Float64, "ci_low": pl.Float64, "ci_high": pl.Float64, "p_value": pl.Float64, "q_value": pl.Float64,
    "finding": pl.String,
}  # fmt: skip
"""`effect` of a level with its own 95% interval; `p_value` of the characteristic as a whole, in the joint model."""


def _band(value: float | None, cuts: tuple[float, ...]) -> str | None:
    if value is None or not np.isfinite(value):
        return None
    edges = [f"under {cuts[0]:g}", *[f"{a:g} to under {b:g}" for a, b in pairwise(cuts)]]
    return [*edges, f"{cuts[-1]:g} and over"][int(np.searchsorted(cuts, value, side="right"))]


def _levels(aim: Aim, students: pl.DataFrame, ids: list[str]) -> dict[str, NDArray[np.object_]]:
    """The level of every episode by characteristic, None where unknown."""
    from warehouse.domain.drill_effect.forecast import episode_gaps

    _, student = oriented(aim)
    on = {row["student_id"]: row for row in students.iter_rows(named=True)}
    last = students["as_of"].max() if "as_of" in students.columns else None
    rows = [on.get(ids[i], {}) for i in student]
    ages = [
        (last - row["born_on"]).days / 365.25 if last is not None and row.get("born_on") is not None else None  # type: ignore[operator]
        for row in rows
    ]
    gap = episode_gaps(aim)
    thirds = np.quantile(gap, [1 / 3, 2 / 3]) if gap.size else np.zeros(2)
    near = np.array(["near the aim", "between", "far from the aim"], dtype=object)
    return {
        "handicap": np.array([_band(row.get("handicap"), HANDICAP_BANDS) for row in rows], dtype=object),
        "handed": np.array([row.get("handed") for row in rows], dtype=object),
        "starting gap": near[np.searchsorted(thirds, gap, side="right")],
        "age": np.array([_band(age, AGE_BANDS) for age in ages], dtype=object),
    }


def _testable(level: NDArray[np.object_], student: NDArray[np.int64]) -> list[str]:
    """Levels with at least five students; a characteristic needs two of them."""
    named = sorted({x for x in level if x is not None})
    return [x for x in named if np.unique(student[level == x]).size >= INTERVAL_STUDENTS]


def _joint(value: Floats, student: NDArray[np.int64], blocks: dict[str, Floats]) -> dict[str, float]:
    """p-value of every characteristic in one least-squares model, errors summed by student.

    Notes
    -----
    F = W (g - k) / (k (g - 1)) on (k, g - k), W the Wald statistic of the k columns, g students: the small-sample form
    of Hotelling's T^2, which keeps its level with few clusters.
    """
    from scipy.special import fdtrc

    x = np.concatenate([np.ones((value.size, 1)), *blocks.values()], axis=1)
    bread = np.linalg.pinv(x.T @ x)
    beta = bread @ (x.T @ value)
    who, back = np.unique(student, return_inverse=True)
    scores = np.zeros((who.size, x.shape[1]))
    np.add.at(scores, back, x * (value - x @ beta)[:, None])
    g = who.size
    covariance = g / max(g - 1, 1) * bread @ (scores.T @ scores) @ bread
    out, at = {}, 1
    for name, columns in blocks.items():
        k = columns.shape[1]
        here = slice(at, at + k)
        at += k
        if g - k < 2:
            out[name] = float("nan")
            continue
        wald = float(beta[here] @ np.linalg.pinv(covariance[here, here]) @ beta[here])
        out[name] = float(fdtrc(k, g - k, max(wald, 0.0) * (g - k) / (k * (g - 1))))
    return out


def _of_aim(aim: Aim, students: pl.DataFrame, ids: list[str]) -> list[dict[str, Any]]:
    """Rows of one drill and club group, before false discovery control."""
    value, student = oriented(aim)
    levels = _levels(aim, students, ids)
    base = {
        "drill_id": aim.drill.drill_id, "metric": aim.metric, "measure": aim.measure, "club_group": aim.club_group,
    }  # fmt: skip
    blocks: dict[str, Floats] = {}
    rows: list[dict[str, Any]] = []
    for name in CHARACTERISTICS:
        able = _testable(levels[name], student)
        if len(able) < 2 or np.unique(student).size < VERDICT_STUDENTS:
            rows.append({**base, "characteristic": name, "finding": "too few students to compare"})
            continue
        full = (levels[name][:, None] == np.array(able, dtype=object)[None, :]).astype(np.float64)
        blocks[name] = full[:, 1:] - full[:, :1]
        for level in able:
            rows.append({**base, "characteristic": name, "level": level, **_at(aim, levels[name] == level)})
    p = _joint(value, student, blocks) if blocks else {}
    return [{**row, "p_value": p.get(row["characteristic"], float("nan"))} for row in rows]


def _at(aim: Aim, chosen: NDArray[np.bool_]) -> dict[str, Any]:
    """The headline effect over the chosen episodes of an aim (in the order of `oriented`)."""
    parts, start = [], 0
    for p in aim.parts:
        rows = p.rows[chosen[start : start + p.rows.size]]
        start += p.rows.size
        parts.append((p.fitted, rows))
    result = regression.effect(parts, [p.side for p in aim.parts])
    low, high = interval(result.effect, result.error, result.df)
    who = np.concatenate([p.of.rows.student[rows] for p, (_, rows) in zip(aim.parts, parts, strict=True)])
    return {
        "effect": result.effect, "ci_low": low, "ci_high": high, "episodes": int(chosen.sum()),
        "students": np.unique(who).size,
    }  # fmt: skip


def subgroups(
    episodes: pl.DataFrame, students: pl.DataFrame, *, metrics: pl.DataFrame | Matters | None = None
) -> pl.DataFrame:
    """Compare each drill's effect on its aim between kinds of students.

    Parameters
    ----------
    episodes, metrics : as of `warehouse.domain.drill_effect.estimate`.
    students : student_id, handed, handicap (number or null), born_on (date or null).

    Returns
    -------
    polars.DataFrame
        `SCHEMA`; `finding` is 'differs' (q <= .05 over all drills and characteristics), 'no difference found', or
        'too few students to compare'.
    """
    if episodes.is_empty():
        return pl.DataFrame(schema=SCHEMA)
    people = students.with_columns(pl.lit(episodes["begins_at"].max()).cast(pl.Date).alias("as_of"))
    read = aims.read(episodes, metrics)
    rows = [row for a in read.aims if a.parts and a.orientation for row in _of_aim(a, people, read.student_ids)]
    asked = [(row["drill_id"], row["club_group"], row["characteristic"]) for row in rows]
    distinct = {key: row["p_value"] for key, row in zip(asked, rows, strict=True)}
    q = dict(zip(distinct, false_discovery.q_values(list(distinct.values())), strict=True))
    for key, row in zip(asked, rows, strict=True):
        row["q_value"] = float(q[key])
        row.setdefault("finding", "differs" if row["q_value"] <= Q_LIMIT else "no difference found")
    frame = pl.DataFrame(rows, schema=SCHEMA)
    keys = ["drill_id", "club_group", "characteristic", "level"]
    return frame.with_columns(pl.col(pl.Float64).fill_nan(None)).sort(keys)
