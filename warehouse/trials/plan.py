"""What a trial fixes before its first lot, as one value with a JSON form that the commitment binds.

Not here: how many students it needs (warehouse/domain/trials/power.py), where it is kept (book.py).
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields
from typing import Any

from warehouse.domain.trials.interim_look import Rule
from warehouse.domain.trials.power import HORIZONS, KINDS
from warehouse.domain.trials.randomisation import FREE_PRACTICE, ORDER_MARK, Lots, orders
from warehouse.schema.metrics import CLUB_GROUPS, METRIC

MEASURES = ("centre", "distance")
"""What a trial can be read by; the spread of shots has no outcome here yet."""


@dataclass(frozen=True)
class Plan:
    """A trial's plan.

    `treatments` drills, and `FREE_PRACTICE` where that is an arm; the first is the reference. `gap_middle` halves
    candidates by starting gap; `target` is that of the aim, for the measure distance; `free_practice_balls` the most
    balls of a paid lesson that a free-practice arm takes.
    `cohorts` and `goal` narrow who may take part: members on the day of entry, students whose goal is the metric.
    `outcome_days` days from entry within which an episode is the lot's own (None: plans made before that was asked).
    `students` are planned over all arms, `followed` the share of them whose outcome is expected; `rule` judges looks.
    """

    trial_id: str
    title: str
    kind: str
    horizon: str
    treatments: tuple[str, ...]
    metric: str
    measure: str
    club_group: str
    better: float
    matters_from: float
    students: int
    episodes: int
    weeks: float
    gap_middle: float
    target: float = 0.0
    followed: float = 0.8
    rule: str = "obrien-fleming"
    free_practice_balls: int = 20
    cohorts: tuple[str, ...] = ()
    goal: bool = False
    outcome_days: int | None = None

    def __post_init__(self) -> None:
        """Refuse a plan that cannot be carried out, in one sentence."""
        if self.kind not in KINDS or self.horizon not in HORIZONS:
            raise ValueError(f"kind is one of {', '.join(KINDS)}; horizon one of {', '.join(HORIZONS)}")
        if self.metric not in METRIC or self.club_group not in (*CLUB_GROUPS, "any"):
            raise ValueError("the metric or the club group is not known")
        if self.measure not in MEASURES:
            raise ValueError(f"the measure is one of {', '.join(MEASURES)}")
        if len(set(self.treatments)) != len(self.treatments) or len(self.treatments) < 2:
            raise ValueError("a trial compares two different drills or more, or a drill with free practice")
        if any(ORDER_MARK in name for name in self.treatments):
            raise ValueError(f"a drill's id must not contain {ORDER_MARK.strip()!r} between blanks")
        if not 0 < self.followed <= 1:
            raise ValueError("followed is a share above 0")
        if self.students < 2 or self.episodes < 1 or not self.free_practice_balls > 0:
            raise ValueError("students, episodes and balls are above zero")
        if self.outcome_days is not None and self.outcome_days < 1:
            raise ValueError("an outcome is read within a day of entry at least")
        self.lots()
        self.decision_rule()

    def lots(self) -> Lots:
        """Return what is drawn: treatments, or in a crossover their orders."""
        if self.kind == "parallel":
            return Lots(self.trial_id, self.treatments)
        return Lots(self.trial_id, tuple(ORDER_MARK.join(order) for order in orders(self.treatments)))

    def decision_rule(self) -> Rule:
        """Return how looks are judged."""
        arms = 2 if self.kind == "crossover" else len(self.treatments)
        measured = max(round(2 * self.students * self.followed / arms), 4)
        return Rule(self.rule, self.better, self.matters_from, measured)

    def first_drill(self, arm: str) -> str | None:
        """Return the drill that a lot begins with; None for free practice."""
        first = arm.split(ORDER_MARK, maxsplit=1)[0]
        return None if first == FREE_PRACTICE else first

    def as_json(self) -> str:
        """Return the plan as it is kept and committed to."""
        return json.dumps(asdict(self), sort_keys=True)

    @classmethod
    def of_json(cls, text: str) -> Plan:
        """Read a plan as it was kept."""
        values: dict[str, Any] = json.loads(text)
        known = {field.name for field in fields(cls)}
        return cls(**{k: tuple(v) if isinstance(v, list) else v for k, v in values.items() if k in known})
