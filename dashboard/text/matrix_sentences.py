"""Words of the table of drills by numbers: which side, how much, how sure; a sign and a word for each."""

from __future__ import annotations

from dashboard.shell.number_format import Shown, clear, missing
from dashboard.text.drill_sentences import Row

ONE_NUMBER = "One number: every drill, this session and the next"
KEY = (
    "▲ better · ▼ worse · ↑ ↓ moves, neither better nor worse · ○ cannot be told from no effect; change beyond free "
    "practice in the same session, then how sure. Empty: not known. ◎ what the drill aims at. Tap a cell for its "
    "number's picture and its drill."
)
DRILL = "drill"
OPEN = "Open {drill}"


def side(row: Row) -> tuple[str, str]:
    """Return the sign and the word of an effect's side (query drill_matrix)."""
    if not clear(row["ci_low"], row["ci_high"]):
        return "○", "unclear" if row["verdict"] != "no meaningful effect" else "no effect that matters"
    if row["better"] not in ("up", "down"):
        return ("↑", "up") if row["effect"] > 0 else ("↓", "down")
    return ("▲", "better") if (row["effect"] > 0) == (row["better"] == "up") else ("▼", "worse")


def cell(row: Row, shown: Shown) -> str:
    """Return what a drill does to a number (query drill_matrix)."""
    sign, word = side(row)
    early = ", too early" if row["verdict"] == "too early" else ""
    aim = "◎ " if row["is_aim"] else ""
    return f"{aim}{sign} {shown.change(row['effect'])} {word}{early} ({row['certainty'] or 'not judged'})"


def helps_not_works(row: Row, shown: Shown) -> str:
    """Say why an effect whose interval reaches what matters is not called to work; empty where nothing needs it."""
    if row["verdict"] != "helps" or missing(row["ci_low"]) or missing(row["check_low"]):
        return ""
    nearest = min(abs(row["ci_low"]), abs(row["ci_high"]))
    if nearest < row["matters_from"] * 0.95:
        return ""
    return (
        f"The second way of estimating gives {shown.change(row['check_effect'])} (95% "
        f"{shown.interval(row['check_low'], row['check_high'])}); both must be at least "
        f"{shown.size(row['matters_from'])} before a drill is said to work."
    )
