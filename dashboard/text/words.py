"""All fixed text that readers see, in one place, so that it can be translated. Sentences with numbers: sentences.py."""

from __future__ import annotations

PAGES = {
    "week": "Week",
    "cohorts": "Cohorts",
    "drills": "Drills compared",
    "drill": "One drill",
    "students": "Students",
    "bays": "Bays and files",
    "sql": "SQL",
    "help": "How to read this",
}
QUESTIONS = {
    "week": "Are our students better, and what needs me?",
    "cohorts": "How did this group change between these weeks?",
    "drills": "Which drills move which numbers, and do they last?",
    "drill": "For whom does this drill work, and at what price?",
    "students": "Where is this student against their own goal, and what next?",
    "bays": "Did every bay report, and is it comparable?",
    "sql": "Anything else: ask the published file",
    "help": "How to read these pages",
}
READING = "Reading last night's numbers …"
APP = "Drill evidence"

NOTHING_PUBLISHED = (
    "Nothing is published in **{home}** yet. Fill in the tables in its `landing/academy/` folder (sites, bays and "
    "students first; `academy start --home {home}` makes them), put each night's exports under `landing/shots/`, and "
    "run `academy nightly --home {home}`. Then reload this page. For an invented academy to look at, run `academy "
    "demo --home demo_home`: keep it in a folder of its own."
)
OLD_FILE = (
    "The published file is of another version than these pages. Run `academy nightly --home {home} --rebuild`, then "
    "reload this page."
)
NAMES_WITHHELD = "A student without consent is shown by id."
NO_COACHES = (
    "Outcomes are not given by coach: students do not come to coaches by lot, so such numbers would say who was "
    "taught, not how well."
)
DIRECTION_NUMBERS = (
    "Numbers with a left and a right are shown as distance from the target and as spread; a signed mean over people "
    "would cancel."
)

VERDICTS = {
    "works": "works: at least {matters} better",
    "helps": "helps: better, perhaps by less than matters",
    "unclear": "unclear",
    "no meaningful effect": "no meaningful effect",
    "wrong way": "wrong way",
    "depends on assumptions": "depends on assumptions",
    "too early": "too early",
}
HORIZONS = {"transfer": "same session", "retention": "next session"}
CLUB_GROUPS = {"driver": "driver", "wood": "woods", "iron": "irons", "wedge": "wedges", "any": "any club"}
MEASURES = {"centre": "centre", "distance": "distance from the target", "spread": "spread"}
MEASURED_BY = {"centre": "", "distance": ", distance", "spread": ", spread"}
STATES = {"reported": "reported", "refused": "refused", "silent": "silent", "no lessons": "no lessons"}
SIDE_KINDS = {"mishit_share": "mishits", "unmeasured_share": "balls on which the aim was not measured"}
CARRY_PARTS = {
    "from_club_speed": "club speed",
    "from_contact": "contact",
    "from_attack_angle": "attack angle",
    "from_dynamic_loft": "dynamic loft",
    "from_spin": "spin beyond the delivery",
    "remainder": "not explained by the model",
}
WINDOWS = {
    "term": "this term: first weeks against latest",
    "last_term": "this term against the same weeks of the last",
    "recent": "the latest weeks against those before",
}
NAIVE = "before to after, as it looks"

TERMS = {
    "interval": "95% interval: the range of true changes that these data do not speak against; if the method were "
    "used again and again, 95 of 100 such ranges would hold the truth.",
    "prediction interval": "80% prediction interval: four of five next times should fall inside it, for a student "
    "like this one.",
    "beyond free practice": "What is left after taking off what the same stretch of practice without a drill would "
    "have given.",
    "as it looks": "Before to after, as it looks: the plain difference, which also holds warm-up and the fact that "
    "drills are chosen on bad days; it flatters nearly every drill.",
    "regression to the mean": "A number picked because it was bad today is usually nearer to normal the next time, "
    "with or without a drill.",
    "expected anyway": "What students who only practised changed over the same weeks.",
    "beyond own noise": "The change is larger than this student's usual difference from day to day (minimal "
    "detectable change, 95%).",
    "transfer": "Same session, aid removed: the free balls after the drill against those before it.",
    "retention": "Still there next session: the first free balls of the next session with that club, up to 21 days "
    "later.",
    "smallest change that matters": "The smallest difference worth having, by number and club; set in academy.toml, "
    "shown as the grey band around zero.",
    "verdict": "The verdict asks two estimators for the same answer, with false discoveries controlled; below 10 "
    "students or 20 episodes it is always too early.",
    "certainty": "High, moderate, low or very low: how far the result can be trusted, with reasons; only drawing "
    "drills by lot makes it start high.",
    "partial pooling": "Each drill's effect is pulled toward that of drills with the same aim, more so where there "
    "are few data; used for order and forecast, never for a verdict.",
    "luck": "What the same ranks would show if every student answered alike and all differences were chance.",
    "distance": "How far on average from the target, on the student's own usual side; down is better.",
    "spread": "How far single shots lie apart (winsorised standard deviation); down is tighter.",
    "episode": "One drill between two stretches of free balls with the same club.",
    "bay offset": "What a bay adds to a number, found from students seen in several bays; it is taken off before "
    "anything is compared.",
    "drift": "The running sum of weekly differences (CUSUM) has left the range that chance gives.",
    "carry shortfall": "What this club speed could carry with the best reachable delivery, less what the launch "
    "carries by the flight model.",
    "ellipse": "The ellipse holds about two thirds of the shots; its tilt shows how the two numbers go together.",
    "false discoveries": "Of the names on the list, at most about 5 in 100 are expected to be there by luck.",
    "follow-up": "Share of the episodes that had a next session to look at.",
}

LABELS = {
    "cohort": "Cohort",
    "window": "Weeks compared",
    "number": "Number",
    "drill": "Drill",
    "student": "Student (type to search)",
    "night": "Night",
    "bay": "Bay",
    "episode": "Drill done on",
    "example": "Examples that run",
    "table": "Table",
}
CHOOSE_A_STUDENT = "Choose a student: type a part of the name."
NAMED_IN_ADDRESS = {"student": "student", "night": "night", "cohort": "cohort", "bay": "bay", "drill": "drill"}
NOT_HERE = "The address asks for the {what} {value}, which is not among those below."
SECTIONS = {
    "attention": "Needs attention",
    "owner": "The academy this week",
    "side_effects": "What else it moves",
    "responses": "For whom",
    "subgroups": "Students like this one",
    "setup": "How it is set up",
    "comparison": "What it was compared with",
    "delivery": "Attack angle against path",
    "carry": "Where the carry came from",
    "speed_allows": "What this speed allows",
    "reading": "What one session's balls say",
    "next_drill": "Next drill",
    "attrition": "Who is missing",
    "all_numbers": "All numbers of this cohort",
    "files": "Files of the night",
    "rejected": "Rows refused, with the remedy",
    "offsets": "Are the bays comparable?",
    "clocks": "Clocks",
    "runs": "Last publications",
    "checks": "Checks of the last run that found something",
    "dictionary": "Dictionary",
}

EMPTY = {
    "cohort_change": "No cohort has students in two windows yet. Give students a cohort in students.csv or "
    "enrolments.csv; the first comparison comes once two whole weeks are in.",
    "attention": "Nothing needs attention tonight.",
    "drills": "No drill is known yet. Fill in drills.csv and drill_log.csv in landing/academy, then run the night "
    "again.",
    "effects": "No drill has an effect for this number yet. It needs five students with at least five free balls "
    "before and after the drill; log when the aid goes down and when it comes up.",
    "effect": "This drill has no effect for its aim yet. It needs five students with at least five free balls before "
    "and after it.",
    "responses": "Single students' responses are shown once the drill has enough episodes to tell them from luck.",
    "students": "No student is known yet. Fill in students.csv in landing/academy, then run the night again.",
    "sessions": "This student has no session with five usable free balls of one club yet. The first such session "
    "shows here the next morning.",
    "delivery": "Attack angle against path needs five shots with both numbers; this student's bays have not given "
    "them.",
    "carry": "No drill of this student has carry and club numbers before and after yet.",
    "place": "For the carry a student's speed allows, five driver shots with club speed and attack angle are needed.",
    "forecast": "No forecast for this student yet: it needs drills with an effect for the student's clubs. Choose by "
    "the drills page and with the coach.",
    "bays": "No bay is known yet. Fill in sites.csv and bays.csv in landing/academy, then run the night again.",
    "offsets": "Bays cannot be compared for this number yet: students must be seen in more than one bay.",
    "rejected": "No row was refused that night.",
    "files": "No file arrived for that night.",
}
SQL_HELP = (
    "One read-only query over the published file. Lengths are in metres, speeds in m/s, angles in degrees: the "
    "dictionary gives each column's unit."
)
AS_THEY_CAME = "Cells and files are shown as they came, to the front office alone: they may hold names."
WITHHELD_CELLS = "(withheld): the cell may hold a name. Its file and line say where to look; the front office sees it."
SQL_EXAMPLES = {
    "Drills by effect on attack angle": "select drill.name, effect.effect, effect.ci_low, effect.ci_high, "
    "effect.students,\n"
    "    effect.verdict, effect.certainty\nfrom mart.drill_effect as effect\njoin mart.drill as drill using "
    "(drill_id)\n"
    "where effect.metric = 'attack_angle' and effect.measure = 'centre' and effect.horizon = 'transfer'\n"
    "order by effect.shrunk_effect desc nulls last",
    "Driver speed by week": "select week, count(*) as students, avg(centre) / 0.44704 as club_speed_mph\n"
    "from mart.student_week\nwhere metric = 'club_speed' and club_group = 'driver'\ngroup by week\norder by week",
    "Rows refused, by reason": "select path, reason, column_name, count(*) as rows\nfrom ops.rejected_row\n"
    "group by all\norder by rows desc",
    "Shots by club": "select club, count(*) as shots, count(carry) as with_carry, median(carry) as carry_m\n"
    "from core.shot\nwhere usable\ngroup by club\norder by shots desc",
    "Tables": "select table_name, description\nfrom mart.dictionary\nwhere column_name = ''\norder by table_name",
}

NEXT = {
    "cohorts": "See one cohort, student by student",
    "drills": "See which drill moves which number",
    "drill": "This drill on its own page",
    "student": "See a student",
}
BETTER_RIGHT = ", better to the right"
BETTER_LEFT = ", better to the left"
BETTER_UP = {"up": ", better upward", "down": ", better downward", "zero": "", None: ""}
AXES = {
    "centre": "change beyond free practice",
    "distance": "change of distance from the target beyond free practice",
    "spread": "change of spread beyond free practice",
}
SMALL_PRINT = {
    "drills": "Students who agreed to be used in evidence; blocks of five usable free balls or more before and "
    "after. Drills that have this number only as a side effect stand last.",
    "drill": "Students who agreed to be used in evidence. Names only with consent. Nobody is called a non-responder: "
    "a short strip is mostly luck.",
    "student": "Usable free balls before any drill for the number; all usable balls for the ellipses; bay offsets "
    "taken off.",
    "sql": "Whoever can open this page can ask the whole published file.",
}
NO_AIM = "No bay measures what this drill aims at; only its side effects are shown."
WHICH_CLUBS = "Clubs"
TOO_EARLY_FOR = "Too early to say (under 10 students or 20 episodes): {numbers}."
OTHER_AIMS = "Also show drills with another aim"
ALL_STUDENTS = "all students"
NOT_TOLD = "what practice alone would have given cannot be told yet"
NOT_CLEAR = "which cannot be told from no change"
NOT_BEYOND = "which cannot be told from what practice alone gives"
NONE_EXPECTED = "No drill for this number is expected to do more than free practice for this student."
NO_OWN_GOAL = (
    "No goal of this student is written down yet: write it in the notebook, under The student's goal. Until then the "
    "page begins with the number furthest from what a drill aims at."
)
OWNER_NOTE = "Counts only: they say nothing about what caused a change."
REVIEW_TITLE = "Week in review"
READ_ALOUD = "Read as text"
READ_AS_TEXT = "Read as text, table, download"
TABLE_IN_WORDS = "The same as a table, with reasons"
OPEN_A_DRILL = "Open a drill:"
TABLE_BEHIND = "Table behind it, and download"
DOWNLOAD_CSV = "Download as CSV"
DOWNLOAD_PARQUET = "Download as Parquet"
CANONICAL_UNITS = "In the units of the tables: metres, metres per second, degrees, revolutions per minute."
WORDS_USED = "What the words mean"

SQL_LABEL = "Query (one select)"
SQL_RUN = "Run"
SQL_RUNNING = "Running the query …"
SQL_PLACEHOLDER = "Take an example"
SQL_DRAW = "Draw the result"
SQL_ACROSS = "Across"
SQL_VALUE = "Value"
SQL_PLAN = "How the database runs it"
SQL_SHOW_PLAN = "Show plan and time"
SQL_NOT_RUN = "This query came with the address and has not been run. Read it, then press Run."
SQL_PERMALINK = "The address of this page holds the query: copy it to share or keep."
WITH_WARNINGS = "The last run published with warnings: see Bays and files."
RUN_WARNED = "The last run published with warnings:"
CLOCKS_FINE = "No bay clock is more than a minute off the lesson book."
NO_DRILL_FOR_NUMBER = (
    "No drill with a forecast aims at this number. Choose another number above, or see all drills for it on the page "
    "of drills compared."
)
HOW_TO_READ = (
    "Each page answers one question: the sentence under the title is the answer, the picture shows it, the table is "
    "behind it. A reader who stops after the sentence is right.",
    "The one claim of these pages is that a drill changed a number, by so much, this surely. The plain difference "
    "before to after cannot say that: drills are chosen on bad days, people warm up, everyone improves over a term. "
    "So each drill is compared with what free practice would have given.",
    "A filled mark is an estimate and its line the 95% interval; a hollow mark is the plain difference, as it looks. "
    "The grey band around zero holds changes too small to matter.",
    "Numbers with a left and a right are mirrored for left-handers, so that in to out, open and closed mean the same "
    "for everyone; they are shown as distance from the target and as spread.",
)
VERDICTS_TITLE = "What the verdicts mean"
VERDICT_HELP = {
    "works": "Both estimators say that the effect is at least the smallest change that matters.",
    "helps": "Both say that it is better than free practice, perhaps by less than matters.",
    "unclear": "The data speak neither for nor against it; more episodes would tell.",
    "no meaningful effect": "Both say that whatever it does is smaller than what matters.",
    "wrong way": "Both say that it makes the number worse.",
    "depends on assumptions": "The two estimators do not agree: what lasts in a student, or how drills were chosen, "
    "may be behind it. Drawing the drill by lot would tell.",
    "too early": "Fewer than 10 students or 20 episodes, or one coach only.",
}


def axis_title(measure: str, better: str | None) -> str:
    """Return what the axis of an effect shows, and which way is better."""
    return AXES[measure] + better_side(better)


def better_side(better: str | None) -> str:
    """Return which side of an axis from left to right is better, where one is."""
    return {"up": BETTER_RIGHT, "down": BETTER_LEFT, "zero": "", None: ""}[better]
