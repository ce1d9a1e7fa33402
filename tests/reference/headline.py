"""A drill's effect beyond free practice, written once more from warehouse/EVIDENCE.md: dense, row by row, plain numpy.

One metric and club group at a time. Prior information on coach and bay levels stands as rows of its own ("each level is
0, worth ten episodes"), so that the fit is ordinary least squares. Sources: analysis of covariance (Vickers & Altman
2001, BMJ 323:1123); influence scores summed by student as in a cluster sandwich (Liang & Zeger 1986, Biometrika 73:13);
components by expected sums of squares (Searle, Casella & McCulloch 1992, ch. 3).
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

import numpy as np

Row = dict[str, Any]
LEVEL_PRIOR = 10.0
WARM_LENGTH, WARM_AFTER, WARM_BLOCKS = 6.0, 40.0, 100


@dataclass
class Found:
    """Effect, its standard error, degrees of freedom; `own` the same with the student's own free practice taken out."""

    effect: float
    error: float
    df: float
    own_effect: float
    own_error: float
    episodes: int
    students: int


@dataclass
class Usual:
    """What a student's earlier days say: `mean` of first blocks (None without one), `m` shrunk, `doubt` left over."""

    mean: float | None
    m: float
    doubt: float


@dataclass
class Warm:
    """The lag of a cold start: `size`, the trusted share of 1 / sum of squares, and the score of each student."""

    size: float
    bread: float
    scores: dict[str, float] = field(default_factory=dict)


def components(groups: dict[Any, list[tuple[float, float]]]) -> tuple[float, float]:
    """Between-group and between-member variance of (value, error variance) members, by expected sums of squares."""
    total = sum(len(members) for members in groups.values())
    inner = noise_inner = outer = noise_means = noise_all = squares = 0.0
    grand = sum(value for members in groups.values() for value, _ in members) / total
    for members in groups.values():
        k = len(members)
        mean = sum(value for value, _ in members) / k
        noise = sum(error for _, error in members) / k
        inner += sum((value - mean) ** 2 for value, _ in members)
        noise_inner += (k - 1) * noise
        outer += k * (mean - grand) ** 2
        noise_means += noise
        noise_all += k * noise
        squares += k * k
    free = total - len(groups)
    member = max((inner - noise_inner) / free, 0.0) if free else 0.0
    expected = (len(groups) - 1) * member + noise_means - noise_all / total
    return max((outer - expected) / (total - squares / total), 0.0), member


def lag(begins: float, shots: float) -> float:
    """Mean of exp(-position / length) over a block that begins after `begins` shots."""
    n = max(shots, 1.0)
    return math.exp(-begins / WARM_LENGTH) * WARM_LENGTH / n * (1 - math.exp(-n / WARM_LENGTH))


def club_means(rows: list[Row]) -> dict[str, float]:
    """Mean of first blocks by club."""
    by_club = defaultdict(list)
    for row in rows:
        if row["opens"]:
            by_club[row["club"]].append(row["pre"])
    return {club: sum(values) / len(values) for club, values in by_club.items()}


def usual_levels(rows: list[Row], mean_of: dict[str, float]) -> tuple[list[Usual], float]:
    """Each row's student as of earlier days with the same club; and the variance from session to session."""
    blocks = defaultdict(list)
    for row in rows:
        if row["opens"]:
            value = row["pre"] - mean_of[row["club"]]
            blocks[row["student_id"], row["club"]].append((row["day"], value, row["pre_error"]))
    tau2, s_b2 = components({key: [(v, e) for _, v, e in members] for key, members in blocks.items()})
    out = []
    for row in rows:
        earlier = [(v, e) for day, v, e in blocks[row["student_id"], row["club"]] if day < row["day"]]
        k = len(earlier)
        if not k:
            out.append(Usual(None, 0.0, tau2))
            continue
        mean, noise = sum(v for v, _ in earlier) / k, sum(e for _, e in earlier) / k
        share = tau2 / (tau2 + s_b2 / k + noise / k) if tau2 else 0.0
        out.append(Usual(mean + mean_of[row["club"]], share * mean, tau2 * (1 - share)))
    return out, s_b2


def warm_up(rows: list[Row], mean_of: dict[str, float]) -> Warm | None:
    """How much colder the very first ball is, from first blocks of different lengths within student and club."""
    units = defaultdict(list)
    for row in rows:
        if row["opens"] and row["pre_shots"] > 0:
            units[row["student_id"], row["club"]].append(
                (lag(0.0, row["pre_shots"]), row["pre"] - mean_of[row["club"]], row["student_id"])
            )
    points = []
    for members in units.values():
        c = sum(curve for curve, _, _ in members) / len(members)
        v = sum(value for _, value, _ in members) / len(members)
        points += [(curve - c, value - v, student) for curve, value, student in members]
    if len(points) < WARM_BLOCKS:
        return None
    room = sum(curve * curve for curve, _, _ in points)
    slope = sum(curve * value for curve, value, _ in points) / room
    scores: dict[str, float] = defaultdict(float)
    for curve, value, student in points:
        scores[student] += curve * (value - slope * curve)
    error2 = sum(score * score for score in scores.values()) / room**2
    trust = max(1 - error2 / slope**2, 0.0)
    return Warm(trust * slope, trust / room, scores)


def effects(
    given: list[Row], drill: str, *, horizon: str, mirrored: bool, target: float | None = None, warms: bool = True
) -> Found:
    """Effect of one drill; with `target` that of the distance from it.

    Parameters
    ----------
    given
        Rows of one metric and club group: student_id, day, club, coach_id, bay_id, next_bay_id, drill_id, kind, handed,
        week (in weeks), pre_shots, post_shots, next_shots, next_days, drill_shots, followed_by_drill, excluded, opens
        (the session's first block), and pre, pre_error, post, next in the measure's unit.
    """
    mean_of = club_means(given)
    levels, s_b2 = usual_levels(given, mean_of)
    warm = warm_up(given, mean_of) if warms else None
    later = "next" if horizon == "retention" else "post"
    kept = [
        (row, usual)
        for row, usual in zip(given, levels, strict=True)
        if not row["excluded"]
        and row["pre"] is not None
        and row["post"] is not None
        and row[later] is not None
        and not (horizon == "retention" and row["followed_by_drill"])
    ]
    rows = [row for row, _ in kept]
    free = [row["kind"] == "free_practice" for row in rows]
    week_mean = sum(row["week"] for row in rows) / len(rows)
    coaches = sorted({row["coach_id"] for row, is_free in zip(rows, free, strict=True) if is_free and row["coach_id"]})
    bays = [sorted({row[name] for row, is_free in zip(rows, free, strict=True) if is_free}) for name in
            (("bay_id", "next_bay_id") if horizon == "retention" else ("bay_id",))]  # fmt: skip
    plain, level_part, outcome, warmer = [], [], [], []
    for row, usual in kept:
        x = row["pre"] - mean_of[row["club"]]
        after_drill = 0.0
        if warm is not None and row["drill_id"] is not None and row["drill_shots"] is not None:
            before = 0.0 if row["opens_session"] else WARM_AFTER
            x += warm.size * ((lag(0.0, row["pre_shots"]) - lag(before, row["pre_shots"])) if before else 0.0)
            hit = lag(before + row["pre_shots"] + row["drill_shots"], row["post_shots"])
            after_drill = hit - lag(row["pre_shots"], row["post_shots"])
        away = (x - usual.m) / (usual.doubt + s_b2 + row["pre_error"])
        line = [1.0, x, usual.m, usual.doubt * away, s_b2 * away, math.log(max(row["pre_shots"], 1)),
                math.log(max(row[f"{later}_shots"], 1)), (row["week"] - week_mean) / 10]  # fmt: skip
        if horizon == "retention":
            line.append(row["next_days"] / 7)
        line.append(0.0 if row["coach_id"] else 1.0)
        hand = -1.0 if mirrored and row["handed"] == "left" else 1.0
        marks = []
        for name, met in zip(("bay_id", "next_bay_id"), bays, strict=False):
            marks.append([hand if row[name] == one else 0.0 for one in met])
        marks.append([1.0 if row["coach_id"] == one else 0.0 for one in coaches])
        plain.append(line)
        level_part.append(marks)
        outcome.append(row[later] - mean_of[row["club"]])
        warmer.append(after_drill if horizon == "transfer" else 0.0)
    x_all, prior = _sum_to_zero(np.array(plain), level_part)
    y, is_free = np.array(outcome), np.array(free)
    # Without variance between students, or between sessions, one of the two expectations is 0 for everybody.
    told = np.any(x_all != 0, axis=0)
    x_all, prior = x_all[:, told], prior[:, told]
    bread = np.linalg.inv(x_all[is_free].T @ x_all[is_free] + prior.T @ prior)
    beta = bread @ x_all[is_free].T @ y[is_free]
    fitted_error = y - x_all @ beta
    residual = fitted_error - (warm.size * np.array(warmer) if warm is not None else 0.0)
    return _sum_up(rows, kept, residual, x_all, is_free, bread, drill, target, warm, np.array(warmer))


def _sum_to_zero(plain: np.ndarray, marks: list[list[list[float]]]) -> tuple[np.ndarray, np.ndarray]:
    """Covariates with levels that sum to zero, and the prior's rows: every level is 0, worth ten episodes."""
    parts, priors, width = [plain], [], plain.shape[1]
    for place in range(len(marks[0])):
        full = np.array([row[place] for row in marks])
        count = full.shape[1]
        if count < 2:
            continue
        # The last level is minus the sum of the others.
        coding = np.vstack([np.eye(count - 1), -np.ones(count - 1)])
        parts.append(full @ coding)
        priors.append((width, math.sqrt(LEVEL_PRIOR) * coding))
        width += count - 1
    lines = []
    for begins, coding in priors:
        block = np.zeros((coding.shape[0], width))
        block[:, begins : begins + coding.shape[1]] = coding
        lines.append(block)
    return np.hstack(parts), np.vstack(lines)


def _sum_up(rows, kept, residual, x_all, is_free, bread, drill, target, warm, warmer) -> Found:
    students = sorted({row["student_id"] for row in rows})
    u = defaultdict(list)
    for place in np.flatnonzero(is_free):
        u[rows[place]["student_id"]].append(place)
    between, inner = components({s: [(residual[p], 0.0) for p in places] for s, places in u.items()})
    share = {s: between / (between + inner / len(places)) for s, places in u.items()}
    own = {s: share[s] * residual[places].mean() for s, places in u.items()}
    own_x = {s: share[s] * x_all[places].mean(axis=0) for s, places in u.items()}
    chosen, side = [], []
    for place, (row, usual) in enumerate(kept):
        if row["drill_id"] != drill:
            continue
        if target is not None:
            if usual.mean is None or usual.mean == target:
                continue
            side.append(math.copysign(1.0, usual.mean - target))
        else:
            side.append(1.0)
        chosen.append(place)
    n = len(chosen)
    by_student = defaultdict(int)
    for place in chosen:
        by_student[rows[place]["student_id"]] += 1
    g = len(by_student)
    df = min(g - 1, n**2 / sum(count**2 for count in by_student.values()) - 1)
    results = []
    for take_own in (False, True):
        values = [
            s * (residual[p] - (own.get(rows[p]["student_id"], 0.0) if take_own else 0.0))
            for s, p in zip(side, chosen, strict=True)
        ]
        effect = sum(values) / n
        z = (
            sum(
                s * (x_all[p] - (own_x.get(rows[p]["student_id"], 0.0) if take_own else 0.0))
                for s, p in zip(side, chosen, strict=True)
            )
            / n
        )
        known = sum(s * warmer[p] for s, p in zip(side, chosen, strict=True)) / n
        square = 0.0
        for student in students:
            psi = sum(v - effect for v, p in zip(values, chosen, strict=True) if rows[p]["student_id"] == student) / n
            score = sum((x_all[p] * residual[p] for p in u.get(student, [])), np.zeros(x_all.shape[1]))
            psi -= z @ bread @ score
            if warm is not None:
                psi -= warm.scores.get(student, 0.0) * warm.bread * known
            square += psi**2
        results.append((effect, math.sqrt(g / (g - 1) * square)))
    return Found(results[0][0], results[0][1], df, results[1][0], results[1][1], n, g)
