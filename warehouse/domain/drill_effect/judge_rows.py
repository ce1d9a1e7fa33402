"""The last step of the effects: intervals, false discovery control, verdicts, certainty, partial pooling.

Not here: estimation of a row (effect_rows.py, influence.py).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import polars as pl

from warehouse.domain.drill_effect import calibration, verdict
from warehouse.domain.drill_effect.drill import SCHEMA
from warehouse.domain.statistics import false_discovery, partial_pooling
from warehouse.domain.statistics.robustness import robustness_value

_NAN = float("nan")


def _number(row: dict[str, Any], name: str) -> float:
    value = row.get(name)
    return _NAN if value is None else float(value)


def _evidence(row: dict[str, Any], q_value: float) -> verdict.Evidence:
    return verdict.Evidence(
        episodes=row["episodes"], students=row["students"], coaches=row["coaches"], df=_number(row, "df"),
        weeks=row["weeks"], effect=_number(row, "effect"), error=_number(row, "standard_error"),
        check_effect=_number(row, "check_effect"), check_error=_number(row, "check_error"), q_value=q_value,
        better=row["orientation"], matters_from=row["matters_from"], not_estimable=row["not_estimable_reason"],
        trend_to_explain=_number(row, "trend_to_explain"), trend_spread=_number(row, "trend_spread"),
        drawn_share=row["drawn_share"] or 0.0, selection_shift=float(np.nan_to_num(_number(row, "selection_shift"))),
    )  # fmt: skip


def _intervals(row: dict[str, Any]) -> None:
    """Intervals and p, from five students."""
    if row["students"] < verdict.INTERVAL_STUDENTS:
        return
    df = _number(row, "df")
    headline = _number(row, "effect"), _number(row, "standard_error")
    check = _number(row, "check_effect"), _number(row, "check_error")
    shift = np.nan_to_num(_number(row, "selection_shift"))
    for name, of in (("ci", headline), ("check", check)):
        low, high = verdict.interval(*of, df)
        row[f"{name}_low"], row[f"{name}_high"] = low - shift, high + shift
    row["p_value"] = verdict.combined_p(headline, check, df)
    placebo = _number(row, "placebo_effect"), _number(row, "placebo_error")
    row["placebo_low"], row["placebo_high"] = verdict.interval(*placebo, _number(row, "placebo_df"))
    gain = abs(_number(row, "per_weekly_gain"))
    row["trend_to_explain"] = _nearest_zero(row["ci_low"], row["ci_high"]) / gain if gain > 0 else _NAN


def _nearest_zero(low: float, high: float) -> float:
    """How far an interval lies from 0; 0 where it holds it."""
    return max(low, -high, 0.0)


def _families(rows: list[dict[str, Any]]) -> None:
    """q-values: drills' aims and side effects apart, each horizon apart, over rows past the gate."""
    families: dict[tuple[bool, str], list[dict[str, Any]]] = {}
    for row in rows:
        if not verdict.missing(_evidence(row, _NAN)):
            families.setdefault((row["is_aim"], row["horizon"]), []).append(row)
    for family in families.values():
        q = false_discovery.q_values([_number(row, "p_value") for row in family])
        for row, value in zip(family, q, strict=True):
            row["q_value"] = float(value)


def _leans(row: dict[str, Any]) -> bool:
    """Whether the placebo drill of a row seems to do something, the same way as the drill."""
    distance = _nearest_zero(_number(row, "placebo_low"), _number(row, "placebo_high"))
    return distance > 0 and _number(row, "placebo_effect") * _number(row, "effect") > 0


def _judge(row: dict[str, Any]) -> None:
    evidence = _evidence(row, _number(row, "q_value"))
    row["verdict"], row["verdict_reason"] = verdict.judge(evidence)
    drawn, share = _number(row, "drawn_share"), _number(row, "followed_share")
    doubt = verdict.Doubt(
        placebo_leans=_leans(row),
        drawn_share=0.0 if np.isnan(drawn) else drawn,
        followed_share=None if np.isnan(share) else share,
        unseen_levels=row["unseen"],
    )
    row["certainty"], row["certainty_reason"] = verdict.certainty(evidence, doubt)
    if "includes the coach's attention" in (row.get("comparator") or ""):
        row["certainty_reason"] += "; the effect includes the coach's attention"
    if row.get("left_out"):
        row["certainty_reason"] += f"; {row['left_out']}"
    row["better"] = {1.0: "up", -1.0: "down"}.get(row["orientation"])


def _pool(rows: list[dict[str, Any]]) -> None:
    for row, shrunk in zip(rows, partial_pooling.shrink_rows(rows), strict=True):
        if shrunk is not None:
            row["shrunk_effect"], row["shrunk_low"], row["shrunk_high"] = shrunk


def finish(rows: list[dict[str, Any]]) -> pl.DataFrame:
    """Complete estimated rows and give them the table's columns, NaN turned to null, in a fixed order."""
    calibration.calibrate(rows)
    for row in rows:
        _intervals(row)
    _families(rows)
    for row in rows:
        _judge(row)
        students = _number(row, "comparator_students")
        row["robustness_value"] = float(
            robustness_value(_number(row, "effect") / (_number(row, "standard_error") or _NAN), students - 2)
        )
        row["not_estimable_reason"] = row["not_estimable_reason"] or None
    _pool(rows)
    frame = pl.DataFrame([{name: row.get(name) for name in SCHEMA} for row in rows], schema=SCHEMA)
    numbers = [name for name, kind in SCHEMA.items() if kind == pl.Float64]
    keys = ["drill_id", "metric", "measure", "club_group", "horizon"]
    return frame.with_columns(pl.col(numbers).fill_nan(None)).sort(keys)
