"""Mart tables about carry: where a change in it came from, and what a delivery can carry by the flight model."""

from __future__ import annotations

from warehouse.schema.core import CLUB_GROUP, DRILL_ID, EPISODE_ID, STUDENT_ID
from warehouse.schema.declaration import Column, Table
from warehouse.schema.drill_mart import estimated

CARRY_SOURCE = Table(
    "mart.carry_source",
    "one episode: its change in carry, split so that the parts add up",
    ("episode_id",),
    (
        EPISODE_ID,
        DRILL_ID.optional(),
        STUDENT_ID,
        CLUB_GROUP,
        estimated("carry_change", "Carry after less before, as measured.", "m"),
        estimated("from_club_speed", "Part from club speed.", "m"),
        estimated("from_contact", "Part from contact: ball speed beyond what speed and loft explain.", "m"),
        estimated("from_attack_angle", "Part from attack angle.", "m"),
        estimated("from_dynamic_loft", "Part from dynamic loft.", "m"),
        estimated("from_spin", "Part from spin beyond what the delivery explains.", "m"),
        estimated("remainder", "What the model does not explain: air, balls, measurement.", "m"),
        Column("spin_source", "VARCHAR", "Whether spin was measured; modelled: its part is in the remainder.",
               nullable=True, values=("measured", "modelled")),
    ),
)  # fmt: skip

CARRY_SOURCE_SUMMARY = Table(
    "mart.carry_source_summary",
    "one drill or cohort and club group: mean parts of the change in carry",
    ("grouped_by", "group_id", "club_group"),
    (
        Column("grouped_by", "VARCHAR", "Whether the group is a drill or a cohort.", values=("drill", "cohort")),
        Column("group_id", "VARCHAR", "The drill_id or the cohort."),
        CLUB_GROUP,
        Column("episodes", "BIGINT", "Episodes the row rests on.", low=0),
        Column("students", "BIGINT", "Students the row rests on.", "students", low=0),
        *(
            estimated(name, f"Mean over students: {name.replace('_', ' ')}.", "m")
            for name in ("carry_change", "from_club_speed", "from_contact", "from_attack_angle", "from_dynamic_loft",
                         "from_spin", "remainder")
        ),
    ),
)  # fmt: skip

CARRY_BY_DELIVERY = Table(
    "mart.carry_by_delivery",
    "one delivery on a grid, by the flight model on standard air at sea level",
    ("club_speed", "attack_angle", "dynamic_loft"),
    (
        Column("club_speed", "DOUBLE", "Club speed of the delivery.", "m/s"),
        Column("attack_angle", "DOUBLE", "Attack angle of the delivery; up is plus.", "deg"),
        Column("dynamic_loft", "DOUBLE", "Dynamic loft of the delivery.", "deg"),
        Column("ball_speed", "DOUBLE", "Ball speed by the impact model.", "m/s"),
        Column("launch_angle", "DOUBLE", "Launch angle by the impact model.", "deg"),
        Column("spin_rate", "DOUBLE", "Spin rate by the impact model.", "rpm"),
        Column("carry", "DOUBLE", "Carry by the flight model.", "m"),
        Column("best_loft", "BOOLEAN", "The dynamic loft that carries furthest at this speed and attack angle."),
    ),
)

CARRY_BY_ATTACK = Table(
    "mart.carry_by_attack",
    "one club speed and attack angle: the best carry by the flight model, with its uncertainty about the difference",
    ("club_speed", "attack_angle"),
    (
        Column("club_speed", "DOUBLE", "Club speed of the delivery.", "m/s"),
        Column("attack_angle", "DOUBLE", "Attack angle of the delivery; up is plus.", "deg"),
        Column("dynamic_loft", "DOUBLE", "The dynamic loft that carries furthest.", "deg"),
        Column("carry", "DOUBLE", "Carry on standard air at sea level.", "m"),
        Column("carry_low", "DOUBLE", "Lower edge of the band of published coefficient sets, laid on one another at a "
               "level hit.", "m"),
        Column("carry_high", "DOUBLE", "Upper edge of that band.", "m"),
        Column("carry_change", "DOUBLE", "Carry less that of a level hit.", "m"),
    ),
)  # fmt: skip

TABLES = (CARRY_SOURCE, CARRY_SOURCE_SUMMARY, CARRY_BY_DELIVERY, CARRY_BY_ATTACK)
