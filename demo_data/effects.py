"""Which drill is chosen and what it does: choice by how bad the number looks today, or by lot; own response; memory.

Sessions are gone through in order, because what was retained from earlier drills is part of today's numbers.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from demo_data.academy import BAYS, CLUB_GROUP, COACHES, FACE_TO_PATH, GROUPS, LATENT, LOFT, PATH, SPEED, stream
from demo_data.drills import DRILLS, HALF_LIFE_DAYS, REPEAT_SHARE, Drill
from demo_data.students import CLUB_LOFT, CLUB_SPEED_SHARE, Students
from demo_data.swing import Shots
from demo_data.timetable import COACHED, NOBODY, OWN, Sessions

NO_DRILL_COACHED, NO_DRILL_OWN = 2.5, 2.6
LOOK_COACHED, LOOK_OWN, LOOK_BY_EYE = 2.2, 1.3, 0.5
SECOND_DRILL_SHARE = 0.07
AID_SHARE = 1.3
TYPICAL_WEIGHT = 0.15
AIM = np.array([LATENT.index(drill.aim_metric) if drill.aim_metric else NOBODY for drill in DRILLS])
CANDIDATES = tuple(
    np.array([n for n, drill in enumerate(DRILLS) if drill.club_group in (group, "any")]) for group in GROUPS
)


@dataclass
class Episode:
    """One drill done: shots [begin, end) of its session.

    shift (latent,) is what it left for the rest of the day, lasting what stays after it, kept what is still there on
    next_day, the next day with this club.
    """

    session: int
    drill: int
    begin: int
    end: int
    chosen_by: str
    shift: np.ndarray
    gain: float
    pre_look: float
    next_day: int = NOBODY
    lasting: np.ndarray = field(default_factory=lambda: np.zeros(len(LATENT)))
    kept: np.ndarray = field(default_factory=lambda: np.full(len(LATENT), np.nan))


@dataclass
class Responses:
    """own: (students, drills) response of the aim; gap: (students, drills) how far from the aim, standardised."""

    own: np.ndarray
    gap: np.ndarray


def _gap(students: Students, drill: Drill, aim: int) -> np.ndarray:
    group = GROUPS.index(drill.club_group) if drill.club_group in GROUPS else 0
    level = students.level[:, group, aim]
    if drill.aim_direction == "toward":
        far = np.abs(level - drill.aim_target)
    else:
        far = -level if drill.aim_direction == "raise" else level
    return (far - far.mean()) / far.std()


def draw_responses(students: Students, seed: int) -> Responses:
    """Draw how each student answers each drill: the mean, more where the gap is wide, and a deviation of their own."""
    draws, count = stream(seed, "responses"), students.home.size
    own, gap = np.zeros((count, len(DRILLS))), np.zeros((count, len(DRILLS)))
    for n, drill in enumerate(DRILLS):
        deviation = draws.normal(size=count)
        if not drill.aim_metric:
            continue
        gap[:, n] = _gap(students, drill, AIM[n])
        mean = drill.shift.get(drill.aim_metric, 0.0)
        own[:, n] = mean + drill.slope * gap[:, n] * np.where(mean < 0, -1, 1) + drill.student_sd * deviation
    return Responses(own, gap)


def _shift(drill: Drill, aim: int, own: float, level: float, draws: np.random.Generator) -> tuple[np.ndarray, float]:
    """Return the shift (latent,) of one episode and the distance it takes off (`toward`) or its aim's shift."""
    shift = np.zeros(len(LATENT))
    if not drill.shift:
        return shift, 0.0
    own += draws.normal(0, 0.2 * drill.student_sd)
    gain = own
    for metric, mean in drill.shift.items():
        shift[LATENT.index(metric)] = own if metric == drill.aim_metric else mean
    if drill.aim_direction == "toward":
        off = level - float(drill.aim_target or 0.0)
        gain = min(own, 0.9 * abs(off))
        shift[aim] = -np.sign(off) * gain
        if aim == PATH:
            shift[FACE_TO_PATH] -= shift[PATH]
    return shift, gain


class _Chooser:
    """Wishes for the drills that a club group has, from what can be seen: today's first block and earlier ones."""

    def __init__(self, sessions: Sessions, students: Students, draws: np.random.Generator) -> None:
        self.sessions, self.draws = sessions, draws
        self.taste = draws.normal(0, 0.4, (len(COACHES) + 1, len(DRILLS)))
        self.by_eye = np.array([bay[2] == "enseada" for bay in BAYS])
        self.typical = students.level.mean(axis=0)
        self.between = students.level.std(axis=0)
        self.seen: dict[tuple[int, int], list[np.ndarray]] = {}

    def usual(self, student: int, club: int, group: int, today: np.ndarray) -> np.ndarray:
        """Return what a coach takes for this student's usual: the first blocks of earlier sessions with this club.

        Nobody knows the true level; the academy's typical student weighs in a little, and the first time there is
        nothing to compare today with.
        """
        seen = self.seen.get((student, club), [])
        if not seen:
            return today
        typical = of_club(self.typical[group], club)
        return (TYPICAL_WEIGHT * typical + np.sum(seen, axis=0)) / (TYPICAL_WEIGHT + len(seen))

    def note(self, student: int, club: int, today: np.ndarray) -> None:
        """Remember today's first block."""
        self.seen.setdefault((student, club), []).append(today)

    def needs(self, drills: np.ndarray, usual: np.ndarray, group: int, club: int) -> np.ndarray:
        """Return how far each drill's aim usually is from where it should be, in SDs between students."""
        aim, typical = AIM[drills], of_club(self.typical[group], club)
        target = np.array([DRILLS[d].aim_target or 0.0 for d in drills])
        toward = np.array([DRILLS[d].aim_direction == "toward" for d in drills])
        sign = np.array([-1.0 if DRILLS[d].aim_direction == "raise" else 1.0 for d in drills])
        far = np.where(toward, np.abs(usual[aim] - target) - self.between[group, aim],
                       sign * (usual[aim] - typical[aim]))  # fmt: skip
        return np.where(aim >= 0, far / self.between[group, aim], 0.0)

    def looks_bad(self, drills: np.ndarray, today: np.ndarray, usual: np.ndarray, spread: np.ndarray) -> np.ndarray:
        """Return how much worse than usual the aim of each drill looks, in shot SDs; 0 without an aim."""
        aim = AIM[drills]
        toward = np.array([DRILLS[d].aim_direction == "toward" for d in drills])
        target = np.array([DRILLS[d].aim_target or 0.0 for d in drills])
        sign = np.array([-1.0 if DRILLS[d].aim_direction == "raise" else 1.0 for d in drills])
        worse = np.where(toward, np.abs(today[aim] - target) - np.abs(usual[aim] - target),
                         sign * (today[aim] - usual[aim]))  # fmt: skip
        return np.where(aim >= 0, worse / spread[aim], 0.0)

    def choose(self, s: int, today: np.ndarray, usual: np.ndarray, spread: np.ndarray) -> tuple[int, str, float]:
        """Return (drill or -1, chosen by, how bad it looked)."""
        group, coached = CLUB_GROUP[self.sessions.club[s]], self.sessions.kind[s] == COACHED
        drills = CANDIDATES[group]
        bad = self.looks_bad(drills, today, usual, spread)
        luck = self.draws.gumbel(size=drills.size + 1)
        if self.sessions.lot[s]:
            listed = np.flatnonzero([DRILLS[d].by_lot for d in drills])
            pick = int(listed[np.argmax(luck[listed])])
            return int(drills[pick]), "draw", float(bad[pick])
        look = LOOK_COACHED if coached else LOOK_OWN
        look = LOOK_BY_EYE if self.by_eye[self.sessions.bay[s]] else look
        liking = np.array([DRILLS[d].popularity for d in drills])
        taste = self.taste[self.sessions.coach[s]][drills]
        wish = liking + taste + look * bad + 0.4 * self.needs(drills, usual, group, self.sessions.club[s]) + luck[:-1]
        pick = int(np.argmax(wish))
        if wish[pick] < (NO_DRILL_COACHED if coached else NO_DRILL_OWN) + luck[-1]:
            return NOBODY, "", 0.0
        by = "coach" if coached and self.draws.random() > 0.06 else "student"
        return int(drills[pick]), by, float(bad[pick])


class _Memory:
    """What drills have left in each student and club group, fading."""

    def __init__(self, people: int) -> None:
        self.left = np.zeros((people, len(GROUPS), len(LATENT)))
        self.since = np.zeros((people, len(GROUPS)))
        self.open: dict[tuple[int, int], list[Episode]] = {}
        self.times: dict[tuple[int, int, int], int] = {}

    def today(self, student: int, group: int, day: int) -> np.ndarray:
        self.left[student, group] *= 0.5 ** ((day - self.since[student, group]) / HALF_LIFE_DAYS)
        self.since[student, group] = day
        return self.left[student, group].copy()

    def follow_up(self, student: int, club: int, day: int, began: np.ndarray) -> None:
        """Note for earlier episodes with this club what is left of them at their next day."""
        waiting = self.open.get((student, club), [])
        for episode in [e for e in waiting if began[e.session] < day]:
            days = day - int(began[episode.session])
            episode.next_day = day
            episode.kept = episode.lasting * 0.5 ** (days / HALF_LIFE_DAYS)
            waiting.remove(episode)

    def add(self, student: int, group: int, club: int, episode: Episode) -> None:
        again = self.times.get((student, group, episode.drill), 0)
        self.times[student, group, episode.drill] = again + 1
        episode.lasting = episode.shift * DRILLS[episode.drill].retained * REPEAT_SHARE**again
        self.left[student, group] += episode.lasting
        self.open.setdefault((student, club), []).append(episode)


def _second(sessions: Sessions, s: int, first: Episode, chooser: _Chooser, draws: np.random.Generator) -> tuple | None:
    """Return (drill, begin, end) of a second drill in some longer coached lessons."""
    begin = first.end + 10
    if draws.random() >= SECOND_DRILL_SHARE or sessions.kind[s] != COACHED or sessions.shots[s] < begin + 20:
        return None
    others = [d for d in CANDIDATES[CLUB_GROUP[sessions.club[s]]] if d != first.drill]
    return int(draws.choice(others)), begin, begin + 10


def do_drills(sessions: Sessions, shots: Shots, students: Students, responses: Responses, seed: int,
              given: Mapping[int, tuple[int, str]]) -> list[Episode]:  # fmt: skip
    """Choose drills, add their effects and what is retained of them to ``shots.delivery`` in place.

    Parameters
    ----------
    given
        Session -> (drill, chosen by) where a trial says what is done.

    Returns
    -------
    list of Episode
        In order of the sessions.
    """
    draws = stream(seed, "drills")
    chooser, memory = _Chooser(sessions, students, draws), _Memory(students.home.size)
    kept = np.zeros((len(sessions), len(LATENT)))
    episodes: list[Episode] = []
    for s in np.flatnonzero(sessions.student >= 0):
        student, club, day = int(sessions.student[s]), int(sessions.club[s]), int(sessions.day[s])
        group = int(CLUB_GROUP[club])
        kept[s] = memory.today(student, group, day)
        memory.follow_up(student, club, day, sessions.day)
        begin = int(sessions.warm_shots[s] + sessions.pre[s])
        spread = students.shot_sd[student, group]
        level = students.level[student, group] + students.trend[student, group] * day / 7
        window = slice(shots.first[s] + sessions.warm_shots[s], shots.first[s] + begin)
        today = shots.delivery[window].mean(axis=0) + kept[s]
        usual = chooser.usual(student, club, group, today)
        chooser.note(student, club, today)
        if sessions.kind[s] > OWN or begin + sessions.drill_shots[s] + 5 > sessions.shots[s]:
            continue
        drill, by, look = chooser.choose(s, today, usual, spread)
        if s in given:
            drill, by = given[s]
            look = float(chooser.looks_bad(np.array([drill]), today, usual, spread)[0])
        if drill == NOBODY:
            continue
        shift, gain = _shift(DRILLS[drill], AIM[drill], responses.own[student, drill],
                             (level + kept[s])[AIM[drill]], draws)  # fmt: skip
        done = [Episode(int(s), drill, begin, begin + int(sessions.drill_shots[s]), by, shift, gain, look)]
        more = _second(sessions, int(s), done[0], chooser, draws)
        if more is not None:
            d = more[0]
            shift, gain = _shift(DRILLS[d], AIM[d], responses.own[student, d],
                                 (level + kept[s])[AIM[d]], draws)  # fmt: skip
            done.append(Episode(int(s), d, more[1], more[2], "coach", shift, gain, 0.0))
        for episode in done:
            memory.add(student, group, club, episode)
        episodes += done
    _apply(sessions, shots, episodes, kept)
    return episodes


def of_club(level: np.ndarray, club: int) -> np.ndarray:
    """Return a level (latent,) as it is with a club: its loft added, its share of the driver's speed."""
    usual = level.copy()
    usual[SPEED] *= CLUB_SPEED_SHARE[club]
    usual[LOFT] += CLUB_LOFT[club]
    return usual


def _apply(sessions: Sessions, shots: Shots, episodes: list[Episode], kept: np.ndarray) -> None:
    """Add to every shot what its student retained and what today's drills do (more while the aid is down)."""
    main = shots.club == sessions.club[shots.session]
    shots.delivery += kept[shots.session] * main[:, None]
    for episode in episodes:
        start = shots.first[episode.session]
        stop = start + sessions.shots[episode.session]
        shots.delivery[start + episode.begin : start + episode.end] += AID_SHARE * episode.shift
        shots.delivery[start + episode.end : stop] += episode.shift
        shots.delivery[start + episode.begin : start + episode.end, SPEED] -= 0.6
