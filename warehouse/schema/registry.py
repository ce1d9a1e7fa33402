"""All declared tables in one place, and the SQL macros that units and metrics need."""

from __future__ import annotations

from warehouse.schema import attention_mart, bay_mart, carry_mart, core, drill_mart, episode_core, mart, ops, setup_mart
from warehouse.schema.declaration import Table
from warehouse.schema.metrics import M_PER_YD, METRICS, MS_PER_MPH

TABLES: dict[str, Table] = {
    table.name: table
    for module in (core, episode_core, mart, setup_mart, bay_mart, drill_mart, carry_mart, attention_mart, ops)
    for table in module.TABLES
}
"""Published tables by name, in the order in which the dictionary gives them."""

UNIT_MACROS = {
    "mph": f"(speed) as speed / {MS_PER_MPH}",
    "kmh": "(speed) as speed * 3.6",
    "yd": f"(distance) as distance / {M_PER_YD}",
}
"""For readers of the published file: mph(ball_speed), kmh(ball_speed), yd(carry)."""


def macros(*, temporary: bool = False) -> list[str]:
    """Return the statements that make the macros: units for readers, and what models need when temporary."""
    statements = [f"create or replace macro {name}{body}" for name, body in UNIT_MACROS.items()]
    if not temporary:
        return statements
    mirrored = ", ".join(f"'{metric.name}'" for metric in METRICS if metric.mirrored)
    limits = " ".join(f"when '{metric.name}' then value between {metric.low} and {metric.high}" for metric in METRICS)
    return [
        f"create or replace temp macro mirror_sign(metric, handed) as "
        f"case when handed = 'left' and metric in ({mirrored}) then -1 else 1 end",
        f"create or replace temp macro within_limits(metric, value) as "
        f"case when case metric {limits} end then value end",
    ]
