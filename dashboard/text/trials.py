"""Fixed text of drill trials: their page, their part of the notebook and of the student page, to be translated here.

Sentences with numbers: trial_sentences.py.
"""

from __future__ import annotations

PAGES = {"trials": "Trials"}
QUESTIONS = {"trials": "Which drill is better? Draw lots and find out"}
VIEWS = {"trials": "The trials", "next": "What to try next", "plan": "Plan a trial"}
VIEW = "Show"
SECTIONS = {
    "all": "All trials",
    "plan": "The plan",
    "thin": "What a trial of this size would tell",
    "begin": "Begin it",
    "recruitment": "Who has been entered",
    "balance": "Are the groups alike at the start?",
    "adherence": "Is it done as drawn?",
    "harm": "Stops and harm",
    "look": "The next look",
    "end": "End the trial",
    "result": "What was found",
    "flow": "Who was asked, drawn, measured",
    "honest": "Were the lots drawn as promised?",
    "report": "The report",
    "next_step": "What to do next",
    "evidence": "With all other evidence",
    "closed": "Not to be drawn, and why",
    "notebook": "Drill trial",
    "weeks": "The next four weeks",
}
STATES = {"planned": "planned", "running": "running", "finished": "finished"}
SAME = {"no meaningful effect": "no difference that matters"}  # a drill against another, not against free practice

TERMS = {
    "drawn by lot": "A lot decides who does which drill, so that the groups differ by chance alone; what then differs "
    "in the numbers was done by the drills.",
    "equally good": "Nobody who takes part may be expected to be worse off with one drill than with the other. Where a "
    "coach knows better for a student, that student is not drawn.",
    "power": "The chance that the trial finds a difference that is really there. Four times in five is the usual aim.",
    "as drawn": "Everybody counts in the group they were drawn to, whatever they did; this is the answer, since who "
    "does something else does not do so by lot.",
    "as done": "Everybody counts with what they did; a description only.",
    "looks": "Looking early and often finds differences that are not there. Here each look has its own stricter "
    "limit, fixed at the start, so that all looks together are wrong no more than one time in twenty.",
    "randomisation test": "How often lots drawn again would show as large a difference if no drill did anything.",
    "information": "Share of the planned measurements that are in.",
    "balance": "Difference of the groups at the start, in standard deviations. Up to .3 is common by luck in small "
    "groups; the result is adjusted for it.",
    "value of knowing": "How much better the choices of a year would get, on average, if the trial's answer were "
    "known; in smallest changes that matter. A rough order, not money.",
    "follow-up": "A student is followed when balls before and after the drill were measured.",
}

NONE_YET = (
    "No drill trial is planned yet. Drawing lots between drills that the coaches hold equally good tells in weeks "
    "what choosing by eye tells in years. Look at what to try next, then plan one."
)
NONE_YET_READER = "No drill trial is planned yet. The director plans one on this page; then it shows here."
CHOOSE_TRIAL = "Trial"
NUMBER = "Number that the trial reads"
TREATMENTS = "Drills to compare (two or more, or one and free practice)"
FREE_PRACTICE = "free practice"
FREE_PRACTICE_OPTION = "Free practice, no drill"
KIND = "How lots are drawn"
KINDS = {
    "parallel": "one drill for each student",
    "crossover": "every drill for each student, in an order drawn",
}
HORIZON = "Read"
HORIZONS = {"transfer": "the same session", "retention": "the next session"}
EPISODES = "Times each drill is done"
AGREE = "Share of those asked who agree (%)"
FOLLOWED = "Share whose outcome is measured (%)"
RULE = "Rule for looks, fixed from the start"
RULES = {
    "obrien-fleming": "few looks, hard to stop early (O'Brien and Fleming)",
    "pocock": "few looks, easier to stop early (Pocock)",
    "always valid": "look whenever you like (always valid, needs more students)",
}
RULE_HELP = {
    "obrien-fleming": "A look may be taken whenever more is in than at the last one; early looks stop only for a very "
    "large difference. Where the drills do the same, the whole trial finds a difference one time in twenty, as "
    "without looks.",
    "pocock": "A look may be taken whenever more is in than at the last one; every look is alike strict, so the last "
    "one is stricter too.",
    "always valid": "A look may be taken at any time, as often as you like; the interval is wider for it.",
}
WHO = (
    "Who may take part: students whose numbers may be used as evidence, who come to lessons, for whom none of the "
    "drills is held, and who agree themselves; for a minor a guardian agrees too. The coach on site may always say no."
)
COHORTS = "Only students of these cohorts, on the day they are entered"
COHORTS_ALL = "all cohorts"
GOAL_ONLY = "Only students whose goal is this number"
NOBODY_COULD = "This plan cannot be carried out: {why}."
NARROWED = "Narrowed to {who}."
OPEN_TO_ALL = "all"
COUNT_OUTSIDE = "Count as looked at, not to be asked"
COUNTED_OUTSIDE = "Counted as looked at; the flow of the trial tells it."
STUDENTS = "Students to draw"
WEEKS = "Weeks planned"
BALLS = "Balls of a paid lesson that free practice takes, at most"
TITLE = "Name of the trial"
TITLE_DEFAULT = "{drills}: {number}"
BEGUN_ON = "First day on which students are entered"
EQUIPOISE = "Our coaches hold these equally good for the students who take part, and I have read the cautions above."
BEGIN = "Begin this trial"
BEGIN_HELP = (
    "What is fixed now cannot be changed later: drills, number, students, rule for looks. A sum (SHA-256) of plan and "
    "secret is shown, so that anybody can check afterwards that nothing was. A plan that turns out wrong is ended, and "
    "a new one begun."
)
FEW_TREATMENTS = "Choose two drills or more, or one drill and free practice."
NO_AIMS = (
    "No drill has an aim that can be read here yet. Fill in drills.csv and drill_log.csv in landing/academy, and run "
    "the night again; then a trial can be planned."
)
NOT_PLANNABLE = (
    "The published file cannot say how many students this needs: too few students have come twice to free practice "
    "with this number. Choose another number or club, or plan again in a few weeks."
)
WRONG_WAY = (
    "**{drill}** goes the wrong way by what is known: nobody should be drawn to it. Take it out to plan this trial."
)
PLAN_SMALL_PRINT = (
    "Students needed come from this academy's own spread between shots, sessions and students; weeks from how often "
    "students came to lessons in the last twelve weeks."
)
BEGUN = "The trial is begun. Its sum: {commitment}. Coaches find it in the notebook when they choose a student."
ONLY_DIRECTOR = "Trials are planned, looked at and ended by the director."

ASSIGNED_HELP = (
    "Numbers by group show only to the director: whoever knows what was drawn so far could guess at the next lot."
)
NOBODY_ENTERED = (
    "Nobody is entered yet. A coach chooses the student in the notebook, writes down the agreement, and draws."
)
NOT_BEGUN = "Students can be entered from {day} on; until then there is nothing to follow."
LOOK = "Take a look now"
LOOK_HELP = (
    "A look compares the groups by the rule chosen at the start. It is kept, and it makes the next one a little "
    "stricter; what it says is go on, or stop. The difference itself is shown when the trial is over."
)
LOOKS_TAKEN = "Looks taken"
NO_LOOKS = "No look has been taken."
DECISIONS = {
    "go on": "Go on: nothing is decided yet.",
    "stop: difference found": "A difference is found by the rule chosen at the start: no more students need to be "
    "drawn. End the trial and read it.",
    "stop: harm": "A drill looks worse than what it is compared with: stop drawing it now, tell the coaches, end the "
    "trial and read it.",
    "too early to look": "Too early: too little has come in since the last look. Nothing was spent.",
}
END = "End this trial"
END_SURE = "No more students are to be drawn; the secret may be opened."
END_HELP = (
    "Ending opens the secret, draws every lot anew to check it, and shows the result. It cannot be begun again. "
    "Students already drawn go on with whatever their coach chooses."
)
STOP_FOR_HARM = "Stop now, for harm"
STOP_FOR_HARM_HELP = (
    "For pain, an injury, or a drill that is stopped too often: nobody is drawn from this moment. Students come "
    "first, then the numbers; coaches on site, medical advice and local law decide, not this page."
)
HARM_KIND = "What happened (must be said)"
HARM_KINDS = {
    "pain": "pain",
    "aid struck": "an aid was struck",
    "rebound": "a ball or aid came back",
    "other": "something else",
}
HARM_WORDS = "In a sentence, if it helps (no names, no health details)"
STOPPED_FOR_HARM = "Stopped for harm on {day}: {kind}."
ENDED = "The trial is over; no student is drawn any more."
HONEST = "Every lot was drawn anew from the opened secret and agrees; plan and secret are those of the first day."
NOT_HONEST = "Not every lot was drawn anew and agrees; read the result with this in mind:"
LOTS_DOWNLOAD = "Lots drawn so far, as CSV"
LOTS_PRINT = "Lots drawn so far, for print"
LOTS_COLUMNS = ("student", "drawn", "entered on")
LOTS_NOTE = "For the coaches who give them. The next lot does not exist before its student is entered."
RESULT_DOWNLOAD = "Differences found, as CSV"
ROWS_DOWNLOAD = "One row a student, as CSV"
FLOW_DOWNLOAD = "Flow, as CSV"
REPORT_DOWNLOAD = "Report for print (one HTML file)"
CHECKED_BY_SUM = "Sum of plan and secret, from the first day"
ANALYSES = {"as drawn": "as drawn", "as done": "as done (a description)"}
CHARACTERISTICS = {"starting_gap": "distance from the aim at entry", "baseline": "balls before the drill"}
KEY_EFFECT = "●  as drawn, with its interval · ○  as done, a description · grey band: smaller than matters"
KEY_RECRUITMENT = "solid: entered so far · dashed: the plan's even pace"
KEY_POWER = "solid: the smallest change that matters · dashed: twice as much · across: four times in five"
SMALL_PRINT = (
    "Drawn within site and half of the starting distance, in blocks of lengths nobody knows. Everybody who was asked "
    "is counted. Students count by id; reasons are kept as the coach wrote them."
)
REASONS = "Reasons given for not taking part, as written:"
NEXT_STEP = (
    "Tell the coaches, and the students who took part, what was found. Each drill's page holds it with all other "
    "evidence; what is worth knowing next stands under “What to try next”."
)
REPORT_NOTE = (
    "Read in the order of the CONSORT statement (Schulz, Altman and Moher, BMJ 2010): who was asked, who was drawn, "
    "what was done, who was measured, what was found."
)

NEXT_EMPTY = (
    "Nothing can be ranked yet: drills with an aim need some logged episodes first. Log when the aid goes down and "
    "comes up; the list fills by itself."
)
NEXT_NONE_OPEN = (
    "No trial would change a decision now: what is used is known well enough, held, or not used. The list below says "
    "why for each pair."
)
NEXT_HELP = (
    "A pair stands high when it is used often, when nobody knows which is better, and when the difference could be "
    "large. Effects come from what was logged, not drawn, so this is an order of worth, no verdict."
)
PLAN_THIS = "Plan this trial"
LOOKS_COST = (
    "Looking on the way costs students: with up to three looks by this rule {times} times as many as without looks. "
    "All numbers here count it."
)
LOOKS_COST_ALWAYS = (
    "Looking at any time costs students: {times} times as many as without looks, reckoned for three looks at the "
    "smallest change that matters. All numbers here count it."
)
KEY_VALUE = "bar: what a year's choices would gain by knowing, in smallest changes that matter (a rough order)"

NOTEBOOK_HELP = "A trial runs that this student may take part in. Taking part is voluntary; a no changes nothing."
EQUAL = "Nobody knows which of these is better: {drills}. A lot decides, nobody chooses."
AGREED_ON = "Agreed on"
AGREES = {
    "student": "The student agrees to take part",
    "guardian": "A guardian agrees to the child taking part",
}
UNTIL_THEN = "The agreement may be taken back at any time; what was measured until then stays in the trial."
AGREE_MINOR = "A person under 18: a guardian agrees first, then the child decides for itself; either no is a no."
AGREE_UNKNOWN = "The date of birth is not known: if the person is under 18, a guardian must agree too."
MINOR = "Is the person under 18?"
MINOR_CHOICES = {"yes": "yes, or not sure", "no": "no, 18 or over"}
READY = "The agreement stands. Entering is for good: the lot is drawn in that moment and stays."
ENTER_AND_DRAW = "Enter the student and draw"
NO_LEVEL = (
    "There is no session of this student with this number yet, so nobody knows how far from the aim the student is. "
    "Let some balls be hit freely today; the student can be entered from tomorrow on."
)
DECLINE = "Does not take part"
DECLINED_BY = "Whose word"
DECLINERS = {"student": "the student", "coach": "the coach"}
REASON = "Why, in a sentence (no health details)"
WRITE_DECLINE = "Write it down"
DECLINED = "Kept. The coach chooses as usual."
WITHDRAW = "Takes part no longer"
WITHDRAW_HELP = (
    "One tap: the agreement is taken back. What was measured until then stays in the trial, nothing afterwards is "
    "used, lessons go on as always."
)
WITHDRAWN = "Taken back. Nothing measured from now on is used in the trial; the coach chooses as usual."
WITHDRAWN_NOTE = "The student took the agreement back; the coach chooses as usual."
INSTEAD = "Do something else instead"
INSTEAD_DRILL = "Done instead"
NOTHING_INSTEAD = "no drill"
BEGIN_DRAWN = "{drill} begins, as drawn"
BALLS_BEGIN = "The free balls begin"
BALLS_BEGIN_HELP = (
    "Tap just before the first of them: balls hit before count as the start, those after it as what free practice did. "
    "Without a tap the moment of the draw counts, where it was drawn in this lesson."
)
BALL = "One ball"
FIVE_BALLS = "Five balls"
RESET_BALLS = "Count from the start"
COACHS_CHOICE = (
    "Now the coach's choice: the trial has had its balls, the rest of the lesson is the student's. Choose a drill "
    "below."
)
DONE_AS_DRAWN = "The drill drawn was done; from here on it is the coach's choice."
HELD = "Not for this student now: {drills}. No lot is drawn; the coach chooses."
HELD_SINCE = "{drill} is held for this student since: it is not given; choose something else beneath and say why."
LOOKED_INTO = "I have looked into it on site: the aid, the space and this student are fit for it today."
DRAWN_NO_MORE = "Nobody is drawn and nothing drawn is given; the coach chooses. The director ends the trial."
NOTEBOOK_UNREADABLE = (
    "The notebook cannot be read, so the trials cannot be shown. Look at its place in academy.toml, then reload this "
    "page."
)
CANNOT_READ = "Drill trials cannot be read just now; the lesson goes on without them."
ENTERED_TOAST = "Entered and drawn."

WEEKS_NONE = (
    "No drill is expected to do more than free practice for this student now; free practice and the coach's eye are "
    "the plan. It is made anew each night."
)
WEEKS_SMALL_PRINT = (
    "Made anew each night from what is known by then; no promise. Eight of ten next times should fall inside the "
    "range. Drills held for this student are left out; the coach on site decides."
)
