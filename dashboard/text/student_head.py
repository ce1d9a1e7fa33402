"""Words of the head of a student's page: who, and where to go on."""

from __future__ import annotations

RECORD, TAKE_HOME, HISTORY, NEXT = "Record", "Take home", "History", "Next drill"
