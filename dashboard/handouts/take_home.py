"""One student's page to take home: what stands on it, and the page as HTML that prints on one sheet.

No ranking, no other student, no verdict on a drill, no promised distance. Not here: its release, which is a page's
(app_pages/take_home.py).
"""

from __future__ import annotations

import html
from dataclasses import dataclass
from datetime import timedelta
from functools import partial

import polars as pl

from dashboard.charts import student_sessions
from dashboard.notebook import goal as notebook_goal
from dashboard.shell import theme
from dashboard.shell.page_context import Reading
from dashboard.text import notebook as words
from dashboard.text import take_home_sentences
from dashboard.text.drill_sentences import Row, first_up, number_name
from dashboard.text.people_sentences import meaning

WEEKS = 6
MOST_DRILLS = 5
PAPER = theme.LIGHT
STYLE = f"""
@page {{ size: A4; margin: 16mm; }}
body {{ font: 11pt/1.35 sans-serif; color: {PAPER.ink}; background: {PAPER.paper}; }}
body {{ max-width: 178mm; margin: 1rem auto; }}
h1 {{ font-size: 20pt; margin: 0 0 2mm; }} h2 {{ font-size: 13pt; margin: 4mm 0 1mm; }} p, li {{ margin: 1mm 0; }}
ul {{ margin: 0; }}
.caution {{ border-left: 1.5mm solid {PAPER.warning}; padding-left: 3mm; }} figure {{ margin: 2mm 0; }}
svg {{ max-width: 100%; max-height: 56mm; height: auto; }} .small {{ font-size: 9.5pt; color: {PAPER.quiet}; }}
@media print {{ body {{ margin: 0 auto; }} }}
"""


@dataclass(frozen=True)
class Sheet:
    """What stands on the page; of one student only."""

    name: str
    minor: bool
    age_unknown: bool
    goal: str
    worked: list[str]
    changed: str
    drill: Row | None
    chart: partial[theme.Chart] | None
    current: str

    @property
    def guardian(self) -> str:
        """Return to whom it goes, where that is not the student."""
        if self.age_unknown:
            return words.GUARDIAN_UNKNOWN
        return words.GUARDIAN if self.minor else ""

    @property
    def said(self) -> tuple[object, ...]:
        """Return all that the page says, to know whether it is still what was released."""
        return self.name, self.minor, self.age_unknown, self.goal, self.worked, self.changed, self.drill, self.current


def number_of(read: Reading, student_id: str) -> tuple[Row | None, Row | None]:
    """Return the student's goal and the change of its number; without a goal, of the number seen most."""
    goal = notebook_goal.latest(read, student_id)
    changes = read.ask("student_goals", student_id=student_id)
    if goal:
        changes = changes.filter((pl.col("metric") == goal["metric"]) & (pl.col("club_group") == goal["club_group"]))
    return goal, changes.row(0, named=True) if changes.height else None


def make(read: Reading, student: Row, drill: Row | None) -> Sheet:
    """Return what stands on a student's page.

    Parameters
    ----------
    student
        A row of query students.
    drill
        The one thing to practise, a row of query drills; None for free practice.
    """
    student_id = student["student_id"]
    goal, change = number_of(read, student_id)
    return Sheet(
        student["shown_as"],
        student["minor"],
        student["age_unknown"],
        notebook_goal.sentence(read, goal) if goal else words.NO_GOAL,
        worked(read, student_id),
        changed(read, change),
        drill,
        drawn(read, student_id, change) if change else None,
        take_home_sentences.current(read.publication),
    )


def changed(read: Reading, change: Row | None) -> str:
    """Say what changed, and what the number is."""
    if change is None:
        return words.NO_CHANGE
    shown = read.shown(change["metric"], change["club_group"])
    return f"{take_home_sentences.changed(change, shown)} {meaning(read.meaning(change['metric']), shown)}"


def worked(read: Reading, student_id: str) -> list[str]:
    """Return what was worked on in the latest weeks, the most done first."""
    drills = read.ask("student_drills", student_id=student_id)
    latest = read.publication["through_night"]
    if drills.is_empty() or latest is None:
        return []
    recent = drills.filter(pl.col("night") > latest - timedelta(weeks=WEEKS))
    counted = (
        recent.group_by("name").agg(pl.len().alias("times"), pl.col("night").max().alias("last"))
        .sort("times", "last", "name", descending=[True, True, False]).head(MOST_DRILLS)
    )  # fmt: skip
    return [take_home_sentences.worked(row) for row in counted.iter_rows(named=True)]


def drawn(read: Reading, student_id: str, change: Row) -> partial[theme.Chart] | None:
    """Return what draws the student's sessions since the first compared, with the band of day-to-day differences."""
    keys = {"student_id": student_id, "club_group": change["club_group"], "metric": change["metric"]}
    rows = read.ask("student_sessions", **keys)
    if change["first_week"] is not None:
        rows = rows.filter(pl.col("night") >= change["first_week"])
    if rows.height < 2:
        return None
    shown = read.shown(change["metric"], change["club_group"])
    drills = read.ask("student_drills", student_id=student_id).head(0)
    title = first_up(number_name(shown, change["club_group"]))
    return partial(student_sessions.chart, rows, drills, change, shown, PAPER, title, width=640, height=220)


def paragraph(text: str, kind: str = "") -> str:
    """Return an escaped paragraph."""
    return f"<p{f' class={kind!r}' if kind else ''}>{html.escape(text)}</p>"


def render(sheet: Sheet) -> str:
    """Return the page as HTML that holds all it needs and prints on one A4 sheet."""
    headings = words.TAKE_HOME
    parts = [f"<h1>{headings['title']}: {html.escape(sheet.name)}</h1>"]
    if sheet.guardian:
        parts.append(f"<p><b>{html.escape(sheet.guardian)}</b></p>")
    parts += [f"<h2>{headings['goal']}</h2>", paragraph(sheet.goal), f"<h2>{headings['worked']}</h2>"]
    parts.append("<ul>" + "".join(f"<li>{html.escape(line)}</li>" for line in sheet.worked) + "</ul>"
                 if sheet.worked else paragraph(words.NO_WORK))  # fmt: skip
    parts += [f"<h2>{headings['changed']}</h2>", paragraph(sheet.changed)]
    if sheet.chart is not None:
        chart = sheet.chart()
        alt = html.escape(chart.settings["description"], quote=True)
        parts.append(paragraph(student_sessions.BAND, "small"))
        parts.append(f'<figure role="img" aria-label="{alt}">{theme.svg(chart)}</figure>')
    parts += [paragraph(words.HOW_READ, "small"), f"<h2>{headings['practise']}</h2>"]
    if sheet.drill:
        caution = words.caution(sheet.drill["caution"])
        parts.append(f'<p class="caution"><b>{words.CARD["caution"]}</b> {html.escape(caution)} {words.AT_HOME}</p>')
        parts.append(f"<p><b>{html.escape(sheet.drill['name'])}.</b> {html.escape(sheet.drill['setup'] or '')}</p>")
    else:
        parts += [paragraph(words.NO_PRACTICE), paragraph(words.AT_HOME, "caution")]
    parts.append(paragraph(sheet.current, "small"))
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{headings["title"]}</title>'
        f"<style>{STYLE}</style></head><body>\n" + "\n".join(parts) + "\n</body></html>\n"
    )
