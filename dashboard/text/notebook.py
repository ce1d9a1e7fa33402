"""Fixed text of the notebook and of the page to take home, in one place, so that it can be translated."""

from __future__ import annotations

PAGES = {"notebook": "Notebook", "take_home": "To take home"}
QUESTIONS = {
    "notebook": "What happened, in three taps",
    "take_home": "What did I work on, and what changed?",
}
SECTIONS = {
    "marks": "Not the student's own full swings",
    "afterwards": "Enter a drill afterwards",
    "observation": "What was seen",
    "goal": "The student's goal",
    "holds": "Not for this student until …",
    "today": "Entered",
    "shots": "Last session in the published file",
    "counted": "Which drills counted, and why others did not",
    "card": "Card for a tee without a network",
}

BAY = "Bay"
BAY_CHOSEN = "Bay {bay}: change"
STUDENT = "Student"
STUDENT_OTHER = "Another student (type to search)"
NOBODY = "Nobody chosen"
CHOOSE_BAY = (
    "Choose the bay: it stays, on every page, until another is chosen here. To keep it on this tablet, put the page on "
    "its home screen once the bay is chosen and before a student is."
)
FREE_FIRST = "First {balls} free balls with this club: without them the drill cannot count."
RUNNING_FOR = "Running for {minutes} min."
JUST_BEGUN = "It has just begun."
NO_EPISODES_OF = "No drill was logged for this student on the night of {night}, their last one published."
CHOOSE_STUDENT = "Choose the student: most likely at this hour first."
DRILL = "Drill"
DRILL_OTHER = "Another drill"
CHOOSE_DRILL = "Choose a drill, read its caution, then it begins."
NO_SUGGESTION = "No drill has a forecast for this student that is better than free practice: choose from the list."
BEGINS = "{drill} begins"
ENDS = "{drill} ends"
CHOSEN_BY = "Chosen by"
CHOOSERS = {"coach": "coach", "student": "student", "draw": "drawn by lot"}
CHOOSERS_BY_HAND = ("coach", "student")  # what was drawn begins from its lot, else anybody could call a choice a lot
ALWAYS = (
    "Nobody within reach of the club. The coach on site decides whether it is done today; juniors only under "
    "supervision. Stop on any pain."
)
TOO_SOON = "It began this very moment: a second tap is taken for a slip. Tap again if it really ended."
MARKS = {
    "coach hitting": "Coach hitting",
    "another student": "Another student",
    "not full swings": "Not full swings",
}
MARK_NAMES = {**{kind: text.lower() for kind, text in MARKS.items()}, "moved to bay": "moved to another bay"}
MARK_ENDS = "{kind} ends"
MARKS_HELP = "One tap begins it, the next ends it. Shots of that time are kept, and left out of the student's blocks."
MOVED = "Moved to bay …"
STOPS = {"pain": "Stopped: pain", "aid struck": "Stopped: aid struck", "rebound": "Stopped: ball or aid came back"}
STOPPED = (
    "Written down; the drill has ended. See to the student first: with pain nothing more is hit today, and a doctor, "
    "not this page, says when to go on. Check the aid and the space before anybody uses it. The director's page shows "
    "it after the next night: tell them today."
)
STOPPED_TOAST = "Written down. See to the student first."
STOP_HELP = "One tap ends the drill and says why. From the next night on it stands first on the drill's page."

AFTER_HELP = (
    "For today's drill set both times. A drill of the last published session is placed by the gaps between balls."
)
AFTER_WHICH = "When was it"
AFTER_TODAY = "today"
DOWN = "Aid down"
UP = "Aid up"
GAP_DOWN = "Aid down, in the gap"
GAP_UP = "Aid up, in the gap"
TO_THE_END = "after the last ball"
ENTER = "Enter"
MEASURE = "Measure"
VALUE = "Value ({unit})"
OBSERVATION_HELP = "By eye unless measured. What goes with what in these numbers is association, not cause."
GOAL_WORDS = "In the student's words"
GOAL_NUMBER = "Number that shows it"
GOAL_TARGET = "Target ({unit})"
GOAL_BY = "By"
GOAL_NONE = "No goal is written yet."
HOLD_WHAT = "What is held"
HOLD_UNTIL = "Until"
HOLD_HELP = (
    "The drill, or every drill with the aim, is in no list for this student before that day. Do not write why: a "
    "diagnosis belongs to the student and a doctor."
)
RELEASE = "Release"
HOLDS_UNREADABLE = (
    "What is held for this student cannot be read, so no drill is suggested. Look at the notebook's place in "
    "academy.toml, then reload this page."
)
WRITTEN = "Written."
UNDO = "Undo"
UNDONE = "Taken back; it stays in the notebook as taken back."
CHOOSE = "Choose"
ENTRIES_OF = "Entries of"
TODAY = "today"
DRAWN_INSTEAD = "Another drill is chosen below. To begin what was drawn, clear that choice."
NOT_WRITTEN = (
    "The notebook cannot be written just now, so nothing was entered. Note it on paper and tap again in a minute; the "
    "same tap is never entered twice."
)

CORRECT = "Correct"
SAVE = "Save the correction"
TAKE_BACK = "Take back"
STAND_AGAIN = "Let it stand again"
TAKEN_BACK = "taken back"
HOW_IT_CAME = "As first entered, and since"
FROM = "From"
TO = "To"
WHY = "Why"
NOTHING_TODAY = "Nothing is entered for this bay and student today."
CHANGED_MEANWHILE = "Somebody changed this entry meanwhile; look at it again."
FROM_TO_HELP = "An entry is never changed in place: the correction stands beside what was first entered."

CLOCK_HELP = "Times are the site's local time."
NO_SESSION = "No session of this student is published yet; the first one shows here the next morning."
SHOWN_NUMBER = "Number shown"
NO_EPISODES = "No drill was logged on the night of {night}."
COUNTED = "Those that counted"
ALL_COACHES = "All coaches' drills of that night; outcomes are not given by coach."
CARD_DOWNLOAD = "Download the card"
CARD_HELP = "Opens without a network and prints on one page: the drills with their cautions, and lines to write on."
CARD = {
    "title": "Lesson card",
    "student": "Student",
    "bay": "Bay or tee",
    "day": "Day",
    "drills": "Drills to choose from",
    "lines": "What happened",
    "columns": ("Drill", "Aid down", "Aid up", "Chosen by", "Stopped: pain, aid struck, came back"),
    "marks": "Coach hitting, another student, not full swings: from, to",
    "copy": "Copy these lines into the notebook under “Enter a drill afterwards”.",
    "caution": "Caution.",
}
SMALL_PRINT = (
    "What is entered here reaches the numbers with the next night. A drill left open ends with its lesson and is "
    "marked as such. Two tablets may write at once; nothing entered is ever erased."
)

TAKE_HOME = {
    "title": "My practice page",
    "goal": "My goal",
    "worked": "What we worked on",
    "changed": "What changed",
    "practise": "One thing to practise",
}
NO_GOAL = "We have not written a goal down yet. Next time, say in a sentence what you would like your ball to do."
NO_WORK = "No drill was done in these weeks; we watched free practice."
NO_CHANGE = (
    "There are not enough sessions with this number yet to tell a change from day-to-day differences. A few more will."
)
NO_PRACTICE = "Nothing new this time: hit balls freely, half of them slowly, and rest between them."
NOTHING_TO_PRACTISE = "nothing new"
PRACTISE = "One thing to practise"
GUARDIAN = "This page is about a person under 18: it goes to a parent or guardian, who decides what is done with it."
GUARDIAN_UNKNOWN = "The date of birth is not known: if the person is under 18, this page goes to a parent or guardian."
AT_HOME = (
    "At home: space all round, nobody near, nothing that breaks. Stop on any pain; with pain ask a doctor before going "
    "on."
)
HOW_READ = (
    "Everybody's numbers differ from day to day. A change counts as more than that only when it is larger than what "
    "this person's own sessions usually differ by; less may still be real, it cannot be told yet."
)
RELEASE_PAGE = "I have read this page and release it"
RELEASE_HELP = "Only a released page can be downloaded; the release is written down."
RELEASE_FIRST = "The page can be taken home once you have released it above."
DOWNLOAD_PAGE = "Download the page (prints on one sheet)"
ALONE = "Show this page alone"
ALONE_HELP = (
    "Hides every other name and all other pages while the tablet is handed over. It is a view, not a lock: to keep the "
    "tablet on one page, use the tablet's own setting for a single app."
)
BACK = "Coach: back to all pages"
CHOOSE_WHOSE = "Whose page"


def caution(own: str | None) -> str:
    """Return a drill's own caution, or the standing one: no drill is without."""
    return own or ALWAYS
