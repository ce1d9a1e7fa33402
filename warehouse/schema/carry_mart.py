"""Mart tables about carry: where a change in it came from, and what a delivery can carry by the flight model."""

from __future__ import annotations

from warehouse.schema.core import CLUB_GROUP, DRILL_ID, EPISODE_ID, STUDENT_ID
from warehouse.schema.declaration import KEY, Column, Table
from warehouse.schema.drill_mart import estimated
from warehouse.schema.mart import COHORT

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


def with_interval(name: str, description: str) -> tuple[Column, ...]:
    """Return a mean over students with the ends of its 95% interval."""
    return (
        estimated(name, f"Mean over students: {description}.", "m"),
        estimated(f"{name}_low", f"Lower end of the 95% interval by student of {name}; null under 5 students.", "m"),
        estimated(f"{name}_high", f"Upper end of the 95% interval by student of {name}.", "m"),
    )


CARRY_SOURCE_SUMMARY = Table(
    "mart.carry_source_summary",
    "one drill, one cohort's drills, or all free practice, and club group: mean parts of the change in carry, before "
    "to after as it looks",
    ("grouped_by", "group_id", "club_group"),
    (
        Column("grouped_by", "VARCHAR", "What the group is; a cohort's are its drill episodes.",
               values=("drill", "cohort", "free practice")),
        Column("group_id", "VARCHAR", "The drill_id, the cohort (all students too), or free practice.", personal=KEY),
        CLUB_GROUP,
        Column("episodes", "BIGINT", "Episodes the row rests on.", low=0),
        Column("students", "BIGINT", "Students the row rests on.", "students", low=0),
        *(
            column
            for name in ("carry_change", "from_club_speed", "from_contact", "from_attack_angle", "from_dynamic_loft",
                         "from_spin", "remainder")
            for column in with_interval(name, f"{name.replace('_', ' ')}, as in mart.carry_source")
        ),
        *with_interval("from_delivery", "contact, attack angle, dynamic loft and spin together: all but club speed"),
    ),
)  # fmt: skip

COHORT_CARRY = Table(
    "mart.cohort_carry",
    "one cohort, week or month and club group: measured carry beside the same launches on standard air",
    ("cohort", "period", "starts_on", "club_group"),
    (
        COHORT,
        Column("period", "VARCHAR", "How long the row's stretch is: a week or a month.", values=("week", "month")),
        Column("starts_on", "DATE", "Its first day: a Monday, or the first of the month."),
        CLUB_GROUP,
        Column("students", "BIGINT", "Students with usable shots that have both carries.", "students", low=1),
        Column("shots", "BIGINT", "Usable shots that have both carries.", "shots", low=1),
        estimated("air_density", "Mean density of the air the shots flew through, as in core.shot.", "kg/m^3"),
        *with_interval("carry", "carry as the bays gave it, offsets not taken off: weather and balls are in it"),
        *with_interval("standard_carry", "the same launches on standard air with a premium ball, by the flight model"),
        *with_interval("difference", "carry less standard_carry: what air, balls, bays and the model's own error add"),
    ),
)

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

TABLES = (CARRY_SOURCE, CARRY_SOURCE_SUMMARY, COHORT_CARRY, CARRY_BY_DELIVERY, CARRY_BY_ATTACK)
