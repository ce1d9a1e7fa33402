"""The twelve drills, in words, and the effects planted on each.

An effect is the mean shift that a drill leaves in a student's delivery for the rest of the session, in the golfer's
own frame (in to out and open are plus, for left-handers too). Not here: which student answers how (effects.py).
"""

from __future__ import annotations

from dataclasses import dataclass, field

NEAR_CLUB = (
    "An object stands near a swinging club: use a soft, light one only, never anything full or hard. Nobody in "
    "front, behind or in the next bay's swing arc. Eye protection is sensible. Begin at half speed. Stop on any pain. "
    "The coach on site decides whether it is done today; juniors only under supervision."
)
STRENUOUS = (
    "Warm up first, rest between swings, stop on any pain or dizziness; not with an injury unless a doctor agrees. "
    "The coach on site decides; juniors only under supervision and with a light club."
)
BALANCE = "Slow swings only, on even ground, nobody near. Stop if dizzy. The coach on site decides."


@dataclass(frozen=True)
class Drill:
    """One drill and its planted truth.

    `shift` maps a delivery number to its mean shift in canonical units; for an aim `toward` a target, the aim's entry
    is the distance it takes off, on either side. `student_sd` is the spread of the aim's shift over students, `slope`
    what a student one SD further from the aim gains on top, `retained` the share still there the next day.
    """

    drill_id: str
    name: str
    aim_metric: str
    aim_direction: str
    aim_target: float | None
    club_group: str
    setup: str
    caution: str = ""
    shift: dict[str, float] = field(default_factory=dict)
    student_sd: float = 0.0
    slope: float = 0.0
    retained: float = 0.0
    popularity: float = 0.0
    by_lot: bool = False


DRILLS = (
    Drill("D01", "Miss the box", "attack_angle", "raise", None, "driver",
          "A soft foam box lies just outside the ball, one hand's width beyond the toe and a little in front. The club "
          "starts on the ground about 60 cm behind the ball on the inside. Swing from there so that the head misses "
          "the box and meets the teed ball on the way up.", NEAR_CLUB,
          {"attack_angle": 1.9, "club_path": 0.8, "dynamic_loft": 0.7}, 0.7, 0.25, 0.5, 0.8, True),
    Drill("D02", "Toe to the bag", "face_to_path", "toward", 0.0, "driver",
          "A soft, empty bag stands 15 to 20 cm in front of the ball, on the target line. Without a ball first, then "
          "with a foam ball, swing slowly so that the toe of the club reaches the bag before the heel does. Take the "
          "bag away before a hard ball is hit.", NEAR_CLUB,
          {"face_to_path": 1.5}, 0.6, 0.2, 0.4, 0.3, True),
    Drill("D03", "Under the rod", "club_path", "toward", 1.0, "any",
          "A padded rod leans over the path about 120 cm behind the ball, at the height of the hip. On the way down "
          "the hands and the shaft pass under it. The face is kept as it was: only the path is to change.", NEAR_CLUB,
          {"club_path": 1.5}, 0.6, 0.2, 0.45, 0.3, True),
    Drill("D04", "High tee, wide stance", "attack_angle", "raise", None, "driver",
          "Tee so high that half the ball shows above the crown, ball opposite the lead heel, feet a shoe's length "
          "wider than for an iron, weight even at address. Hit three quarter drives that start high.", "",
          {"attack_angle": 2.3, "dynamic_loft": 1.0, "club_speed": -0.4, "impact_high": 2.5}, 0.9, 0.25, 0.3, 0.9),
    Drill("D05", "Trail side, lead side", "club_speed", "raise", None, "any",
          "Feel the weight on the trail side early in the backswing, and on the lead side by the time the lead arm is "
          "level on the way down. Rehearse twice without a ball, then hit one.", STRENUOUS,
          {"club_speed": 1.1, "impact_toe": 1.0}, 0.5, 0.0, 0.6, 0.2),
    Drill("D06", "Feet together", "impact_toe", "toward", 0.0, "any",
          "Hit half swings with the feet touching, ball in the middle, ten balls, then go back to the usual stance.",
          BALANCE, {}, 0.0, 0.0, 0.0, 0.2),
    Drill("D07", "Cloth under the arms", "club_path", "toward", 0.0, "iron",
          "Hold a thin cloth under both upper arms and keep it there through three quarter swings.", "",
          {}, 0.0, 0.0, 0.0, 0.3),
    Drill("D08", "Count to three", "club_speed", "raise", None, "driver",
          "Count aloud: one at the start, two at the top, three at the ball. Keep the gaps the same for ten drives.",
          "", {}, 0.0, 0.0, 0.0, 0.3),
    Drill("D09", "Brush in front", "attack_angle", "lower", None, "iron",
          "Draw a chalk line through the ball. The club is to brush the mat only in front of the line, a hand's width "
          "toward the target.", "",
          {"attack_angle": -1.2, "dynamic_loft": -0.8}, 0.5, 0.2, 0.5, 0.4),
    Drill("D10", "Heavy club first", "club_speed", "raise", None, "driver",
          "Swing a weighted training club five times as fast as is comfortable, then hit a drive at once.", STRENUOUS,
          {"club_speed": -1.3, "impact_high": -1.5}, 0.3, 0.0, 0.2, 0.3),
    Drill("D11", "Hands ahead", "dynamic_loft", "lower", None, "iron",
          "Ball a ball's width back of the middle, hands opposite the lead thigh, hit low punches that finish at the "
          "height of the belt.", "",
          {"dynamic_loft": -1.8, "attack_angle": -0.9, "club_path": 0.5}, 0.7, 0.0, 0.5, 0.4, True),
    Drill("D12", "Eyes closed", "", "", None, "any",
          "Make slow swings without a ball with the eyes closed, feel the pressure under both feet, then hit one ball "
          "with open eyes.", BALANCE, {}, 0.0, 0.0, 0.0, 0.1),
)  # fmt: skip
"""D06, D07, D08 and D12 do nothing (true nulls), D10 hurts what it aims at."""

ATTENTION = {"attack_angle": 0.12, "club_speed": 0.10}
"""What a coached lesson adds by its end, drill or none; coaches differ around it."""

HALF_LIFE_DAYS = 40.0
"""How fast what was retained fades."""

REPEAT_SHARE = 0.7
"""What a drill adds to what lasts, each further time, of what it added the time before."""
