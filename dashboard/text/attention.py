"""Fixed text of what needs attention, who is listed, and what changes of set-up go with; so that it can be translated.

Sentences with numbers: attention_sentences.py, setup_sentences.py.
"""

from __future__ import annotations

ATTENTION = {
    "drill was stopped": "{name} was stopped {counted} for {stop}; look into it before it is used again.",
    "drill goes the wrong way": "{name} moves {number} the wrong way and is still used {a_week}.",
    "drill has a side effect": "{name}: {reason}.",
    "drill changes nothing": "{name} changes {number} by less than matters and is still used {a_week}.",
    "evidence is thin": "{name} on {number}: too early to tell. {reason}.",
    "bay is silent": "Bay {name} sent nothing on {counted} of the last 7 nights on which it was expected.",
    "bay drifts": "Bay {name} drifts in {counted} of its numbers; have its device checked.",
    "bay clock is off": "The clock of bay {name} seems {seconds} seconds {way} the lesson book; set it, or enter it in "
    "academy.toml.",
    "student slides": "The goal number, {number}, got worse by more than day-to-day differences explain, two weeks "
    "running (listed {listed}; luck alone would list {luck}).",
}
AHEAD, BEHIND = "ahead of", "behind"
LUCK = "at most about {number}"
LISTED = {
    "better": "Better on their own goal number by more than day-to-day differences explain, two weeks running: "
    "{students} (luck alone would list {luck}).",
    "none": "No student is listed as better on their own goal number two weeks running.",
}
LISTED_TITLE = "Who they are"
EVENTS_MOVED = (
    "{students} compared from a later first session: what was hit before a new club, other balls, a recalibrated "
    "device or a long break is not compared with what came after."
)
EVENT_OF_STUDENT = "{sessions} before {day} not compared with what came after: {kind}."

SETUP_TITLE = "What set-up changes went with"
SETUP_NOTE = (
    "An association, not a cause: the ball may have been moved because the number was bad, or both followed from "
    "something else; and what is seen by eye is rough, which leans every change toward zero. To learn what a change of "
    "set-up does, make it a drill and draw it by lot."
)
SETUP_EMPTY = (
    "No change of set-up can be read for this number yet. Enter the same observation for a student on two days "
    "(page Notebook, under What was seen): 10 students and 20 such pairs would do."
)
SETUP_SO_FAR = "What has been seen so far"
SETUP_KEY = "●  change of the number that went with a typical change of set-up, with its 95% interval by student"
SETUP_FEW = "{measure}: too few so far ({students}, {pairs}; 10 students and 20 pairs would do)."
SETUP_TOLD = (
    "{measure}, {typical} {unit} more: {number} {change} (95% {interval}), {students}, {pairs}; {finding}. It went "
    "with it; that is no cause."
)
SETUP_FINDINGS = {
    "goes with": "goes with it, false discoveries controlled",
    "not told apart from none": "cannot be told from no association",
    "too few": "too few to tell",
}
SETUP_LEAD = "Of {told} with enough pairs, {going}."
SETUP_GOING = "changes of {measures} went with changes of {number}"
SETUP_NONE = "none went with changes of {number} by more than chance explains"
TERMS = {
    "association": "Two numbers changed together; which moved which, or whether a third thing moved both, "
    "cannot be told from it.",
}
