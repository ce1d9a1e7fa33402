"""Raw tables of what people entered in the notebook, as the night read it."""

from __future__ import annotations

from warehouse.schema.core import BAY_ID, STUDENT_ID
from warehouse.schema.declaration import Column, Table

SET_ASIDE = Table(
    "raw.set_aside",
    "one stretch in a bay that a person marked as not the student's own full swings",
    ("bay_id", "starts_at", "kind"),
    (
        BAY_ID,
        STUDENT_ID.optional(),
        Column("starts_at", "TIMESTAMP", "Start, the site's local time."),
        Column("ends_at", "TIMESTAMP", "End, the site's local time."),
        Column("kind", "VARCHAR", "What it was.", values=("coach hitting", "another student", "not full swings")),
    ),
    published=False,
)  # fmt: skip

TABLES = (SET_ASIDE,)
