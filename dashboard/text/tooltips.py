"""What a chart's tooltips call what they show: a word for each column, never its name in a table."""

from __future__ import annotations

TITLES = {
    "after": "after", "analysis": "analysis", "at": "value", "attack_angle": "attack angle (°)", "ball": "ball",
    "bay_id": "bay", "bay_offset": "adds", "before": "before", "carry": "carry", "centre": "value", "ci_high":
    "95% interval, to", "ci_low": "95% interval, from", "club": "club", "cohort": "cohort", "comparable_set":
    "compared among bays", "duplicates": "duplicate rows", "effect": "change beyond practice", "entered_so_far":
    "students entered", "episodes": "times done", "interval": "95% interval", "kind": "kind", "label": "what",
    "lessons": "lessons", "loft": "loft", "name": "drill", "night": "night", "overlap_students":
    "students seen elsewhere too", "pairs": "pairs", "planned_so_far": "students planned", "reads": "reads",
    "reason": "why", "reference_students": "students compared with", "rejected": "rows refused", "response":
    "response", "shots": "balls", "shown_as": "student", "state": "state", "stretch": "when",
    "struck_at_local": "struck at", "students": "students", "unattributed": "balls of nobody known",
    "value": "value", "week": "week", "weekly_offset": "adds", "window": "when", "word": "what it says",
}  # fmt: skip
DAYS = ("night", "week")
DAY = "%-d %B %Y"
