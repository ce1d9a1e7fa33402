"""One academy's term, session by session: who comes, what they hit, which drill they are given, what it leaves.

The generator shares no assumption with the estimator: levels wander and trend, warm-up is exponential, effects follow
the gap and the student, coaches see today's block and know the student, bad days are stayed away from. Not here: rows
and truth as frames (`rows`).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tests.simulation.people import ANY_CLUB, Drills, Staff, Students, draw_drills, draw_staff, draw_students, pull
from tests.simulation.scenario import CLUBS, DAY, LEVEL, METRICS, MIRRORED, TOWARD, UNIT, Scenario, vary
from tests.simulation.shots import Hit, hit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

ALONE, NO_DRILL = -1, -1


@dataclass
class Academy:
    """Everything drawn: the people, `visits` (one dict of arrays per step, a row a session) and `episodes` likewise."""

    seed: int
    scenario: Scenario
    students: Students
    drills: Drills
    staff: Staff
    weeks: int
    visits: list[dict[str, NDArray]] = field(default_factory=list)
    episodes: list[dict[str, NDArray]] = field(default_factory=list)
    left_over: Floats = field(default_factory=lambda: np.zeros(0))
    last_day: Floats = field(default_factory=lambda: np.zeros(0))
    seen_sum: Floats = field(default_factory=lambda: np.zeros(0))
    seen_days: Floats = field(default_factory=lambda: np.zeros(0))


def draw(seed: int, scenario: Scenario) -> Academy:
    """Draw one academy's term; the same seed gives the same academy."""
    rng = np.random.default_rng(seed)
    scenario = vary(scenario, rng)
    bays, coaches = int(rng.integers(5, 9)), int(rng.integers(3, 7))
    students = draw_students(rng, scenario, bays, coaches)
    count = students.left.size
    drills = draw_drills(rng, scenario, count)
    staff = draw_staff(rng, scenario, bays, coaches, drills.aim.size)
    weeks = int(rng.integers(scenario.weeks[0], scenario.weeks[1] + 1))
    academy = Academy(seed, scenario, students, drills, staff, weeks)
    academy.left_over = np.zeros((count, len(CLUBS), len(METRICS)))
    academy.last_day = np.zeros((count, len(CLUBS)))
    academy.seen_sum, academy.seen_days = np.zeros_like(academy.left_over), np.zeros((count, len(CLUBS), 1))
    day = rng.uniform(0, students.gap_days) + np.where(students.fast, rng.uniform(0, 21, count), 0)
    here = np.ones(count, dtype=bool)
    while (here & (day < 7 * weeks)).any():
        who = np.flatnonzero(here & (day < 7 * weeks))
        bad = _visit(rng, academy, who, np.floor(day[who]).astype(np.int64))
        here[who] = rng.random(who.size) >= students.quits[who] * np.exp(bad)
        day[who] += 1 + rng.gamma(3, students.gap_days[who] / 3) * np.exp(0.15 * np.clip(bad, -2, 3))
    return academy


def level_on(academy: Academy, who: Ints, club: Ints, day: Ints) -> Floats:
    """Return levels (n, m) before the day's form: own level, term trend that flattens, and what drills left."""
    s = academy.students
    weeks = day / 7.0
    moved = s.slope[who] * (10 * np.sqrt(weeks / 10.0 + 0.02))[:, None]
    base = LEVEL[club] + s.level[who, club]
    toward = np.sign(base) * np.maximum(np.abs(base) - moved * np.sign(moved), 0.0)
    base = np.where(TOWARD & (moved > 0), toward, np.where(TOWARD, base - np.sign(base) * moved, base + moved))
    since = (day - academy.last_day[who, club])[:, None]
    return base + academy.left_over[who, club] * np.exp(-since / academy.scenario.fade_days)


def _visit(rng: np.random.Generator, academy: Academy, who: Ints, day: Ints) -> Floats:
    """Hit one session each; return how bad it felt, in standard deviations of form."""
    scenario, s = academy.scenario, academy.students
    form = rng.standard_t(scenario.tail, (who.size, len(METRICS))) / np.sqrt(1.6)
    form = 0.8 * form + 0.6 * rng.normal(size=(who.size, 1))
    bad = -form.mean(axis=1) * 1.2
    # A bad day is felt on the way: such students stay away, or hit too few balls to count.
    comes = rng.random(who.size) >= scenario.skip * 0.25 * np.clip(bad, 0, 3)
    who_all, who, day, form = who, who[comes], day[comes], form[comes]
    n = who.size
    club = (rng.random(n) >= s.driver_share[who]).astype(np.int64)
    bays = academy.staff.bay.shape[0]
    bay = np.where(rng.random(n) < 0.65, s.bay[who], rng.integers(0, bays, n))
    lesson = rng.random(n) < s.lesson_share[who]
    coaches = academy.staff.uses.shape[0]
    coach = np.where(lesson, np.where(rng.random(n) < 0.7, s.coach[who], rng.integers(0, coaches, n)), ALONE).astype(
        np.int64
    )
    usual = level_on(academy, who, club, day)
    level = usual + form * DAY * UNIT
    count = np.where(rng.random(n) < 0.06, rng.integers(0, 5, n), rng.integers(6, 25, n))
    device = academy.staff.bay[bay] * np.where(MIRRORED & s.left[who, None], -1.0, 1.0)
    warm_up, shot = s.warm_up[who], s.shot[who]
    pre = hit(rng, scenario, level + device, warm_up, shot, np.zeros(n, dtype=np.int64), count)
    visit = {"student": who, "day": day, "club": club, "bay": bay, "coach": coach, "hit": pre}
    academy.visits.append(visit)
    seen = np.where(count[:, None] > 4, pre.centre - device, usual)
    drill, chosen = _choose(rng, academy, visit, seen, usual)
    academy.seen_sum[who, club] += seen
    academy.seen_days[who, club] += 1
    wander = rng.standard_t(scenario.tail, (n, len(METRICS))) * 0.7 * scenario.walk * UNIT
    attention = np.where((coach >= 0)[:, None], academy.staff.attention[np.maximum(coach, 0)], 0.0)
    settled = usual + scenario.form_kept * form * DAY * UNIT + wander + s.gain[who] + attention
    after = _drilled(rng, academy, visit, drill, chosen, pre, settled, device, first=True)
    _second(rng, academy, visit, drill, after, settled, device)
    felt = np.zeros(who_all.size)
    felt[comes] = bad[comes]
    return felt


def _choose(
    rng: np.random.Generator, academy: Academy, visit: dict, seen: Floats, usual: Floats
) -> tuple[Ints, NDArray[np.str_]]:
    """Pick a drill (or none) per session and who picked it: by today's block, the usual level, the fast group, lots."""
    scenario, drills, who, coach = academy.scenario, academy.drills, visit["student"], visit["coach"]
    n, d = who.size, drills.aim.size
    fits = (drills.club == ANY_CLUB) | (drills.club == visit["club"][:, None])
    fits = fits & np.where((coach >= 0)[:, None], academy.staff.uses[np.maximum(coach, 0)], True)
    days, total = academy.seen_days[who, visit["club"]], academy.seen_sum[who, visit["club"]]
    known = np.where(days > 0, total / np.maximum(days, 1), seen)
    known = scenario.insight * usual + (1 - scenario.insight) * known
    _, today = pull(drills, who, visit["club"], seen)
    _, always = pull(drills, who, visit["club"], known)
    score = scenario.pull_pre * np.clip(today - always, -3, 4) + scenario.pull_level * np.clip(always, -2, 5)
    score = score + scenario.fast_bonus * (drills.favoured & academy.students.fast[who][:, None])
    drawn = (coach >= 0) & (rng.random(n) < scenario.drawn)
    score = np.where(drawn[:, None], 0.0, score) + rng.gumbel(size=(n, d))
    drill = np.argmax(np.where(fits, score, -np.inf), axis=1)
    worst = np.where(fits, today, -np.inf).max(axis=1, initial=0.0)
    eager = 1 / (1 + np.exp(-0.4 * scenario.pull_pre * (np.clip(worst, 0, 6) - 2)))
    wanted = np.where(coach >= 0, (1 - scenario.lesson_free) * (0.6 + 0.8 * eager) / 1.05, 0.16 * eager)
    does = fits.any(axis=1) & (drawn | (rng.random(n) < wanted))
    by = np.where(drawn, "draw", np.where(coach >= 0, "coach", "student"))
    return np.where(does, drill, NO_DRILL), by


def _drilled(
    rng: np.random.Generator,
    academy: Academy,
    visit: dict,
    drill: Ints,
    chosen: NDArray[np.str_],
    pre: Hit,
    level: Floats,
    device: Floats,
    first: bool,
) -> Hit:
    """Hit the block after the drill, or after the split; store the episodes with what the drill truly did."""
    drills, s, who, club = academy.drills, academy.students, visit["student"], visit["club"]
    n = who.size
    does = drill >= 0
    every, _ = pull(drills, who, club, level)
    pick = np.maximum(drill, 0)
    shift = np.where(does[:, None], every[np.arange(n), pick], 0.0)
    talent = drills.talent[who, pick]
    log_scale = np.where(does[:, None], drills.log_spread[pick] * np.clip(talent, 0, 2)[:, None], 0.0)
    balls = np.where(does & (academy.scenario.drill_balls > 0), rng.integers(12, 31, n), 0)
    with_drill = np.round(academy.scenario.drill_balls * balls).astype(np.int64)
    begins = pre.shots + with_drill + (0 if first else 30)
    count = np.where(does, rng.integers(5, 25, n), rng.integers(6, 34, n))
    count = np.where(rng.random(n) < 0.05, rng.integers(0, 5, n), count)
    post = hit(rng, academy.scenario, level + shift + device, s.warm_up[who], s.shot[who], begins, count, log_scale)
    kept = np.where(does, np.clip(drills.kept[pick] * rng.uniform(0.6, 1.4, n), 0, 1), 0.0)
    decay = np.exp(-(visit["day"] - academy.last_day[who, club]) / academy.scenario.fade_days)
    academy.left_over[who, club] = academy.left_over[who, club] * decay[:, None] + kept[:, None] * shift
    academy.last_day[who, club] = visit["day"]
    academy.episodes.append(
        {key: visit[key] for key in ("student", "day", "club", "bay", "coach")}
        | {"drill": drill, "chosen": chosen, "pre": pre, "post": post, "shift": shift, "kept": kept,
           "log_scale": log_scale, "drill_shots": balls, "second": np.full(n, not first),
           "followed": np.zeros(n, dtype=bool)}
    )  # fmt: skip
    return post


def _second(
    rng: np.random.Generator, academy: Academy, visit: dict, drill: Ints, after: Hit, settled: Floats, device: Floats
) -> None:
    """In some lessons a second drill follows, its pre block being the first one's post block."""
    again = (drill >= 0) & (visit["coach"] >= 0) & (rng.random(drill.size) < 0.12)
    if not again.any():
        return
    whole = academy.episodes[-1]
    whole["followed"] = again.copy()
    part = {key: value[again] for key, value in visit.items() if key != "hit"}
    level = (settled + whole["shift"])[again]
    pre = Hit(*(array[again] for array in after))
    drill, chosen = _choose(rng, academy, part, pre.centre - device[again], level)
    does = drill >= 0
    whole["followed"][np.flatnonzero(again)[~does]] = False
    part = {key: value[does] for key, value in part.items()}
    pre = Hit(*(array[does] for array in pre))
    if does.any():
        _drilled(rng, academy, part, drill[does], chosen[does], pre, level[does], device[again][does], first=False)
