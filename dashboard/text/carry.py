"""Fixed text about carry and the flight model. Sentences with numbers: carry_sentences.py."""

from __future__ import annotations

MODEL_NOTE = (
    "The flight model is good for order and differences for one player, not for a promise of yards: published models "
    "differ by some 60 yd (55 m) for one launch. It is measured for drivers; irons and wedges are outside its range."
)
READING_NOTE = (
    "Read from what the bay measured, its offset taken off, against the best delivery within this student's reach; "
    "what costs under 2 yd (1.8 m) is left out."
)
READ_WHAT = "Which balls (latest twelve nights)"
READ_SHOT = "One ball of that session, or the whole block"
WHOLE_BLOCK = "the whole block"
LATEST = "latest session, all its free balls"
NOTHING_COSTS = "Nothing in this delivery costs more than the model can tell."
SHOT_PHASES = {"drill": "during a drill", "free": ""}

SEASON = "Carry, and the same launches on standard air"
SEASON_NOTE = (
    "A warm June is not coaching: measured carry holds the weather, the balls and the bays. The second line flies the "
    "measured launches, with a premium ball, through standard air at sea level by the flight model: what changes there "
    "came from the launch."
)
SEASON_EMPTY = (
    "Carry on standard air needs two weeks or months with five students whose driver launches were measured; only "
    "clubs with a reachable range set in academy.toml have it."
)
PERIODS = {"month": "by month", "week": "by week"}
PERIOD_LABEL = "Carry shown"
LINES = {"measured": "as measured", "standard": "on standard air"}

SOURCES_OF_DRILL = "Where the carry came from"
SOURCES_OF_COHORT = "Where the carry came from in this cohort's drills"
AS_IT_LOOKS = (
    "Before to after, as it looks: warm-up and chance are in it; free practice shows how much of that there is."
)
SOURCES_EMPTY = "Needs five students with driver carry and club numbers before and after a drill."
OUTSIDE_MEASURED = "outside the flight model's measured range"
OUTSIDE_GROUPS = ("iron", "wedge")
