"""The week in review as one self-contained HTML page that prints on two A4 pages.

`python -m dashboard.handouts.week_review --home DIR [--out FILE]`. Charts are SVG; nothing is loaded from
elsewhere. Minors are shown
by id. Not here: numbers that no page shows.
"""

from __future__ import annotations

import argparse
import html
import sys
from collections.abc import Iterable
from pathlib import Path

import polars as pl

from dashboard.charts import cohort_levels, forest
from dashboard.sections.goal_numbers import drill_rows, goal_rows
from dashboard.shell import theme
from dashboard.shell.home_view import Home, read_home
from dashboard.shell.page_context import Reading
from dashboard.text import (
    attention_sentences,
    drill_sentences,
    night_sentences,
    people_sentences,
    week_sentences,
    words,
)
from dashboard.text.drill_sentences import first_up, subject

PAPER = theme.LIGHT
GOALS = 4
MOST_THINGS = 7
STYLE = f"""
@page {{ size: A4; margin: 14mm; }}
body {{ font: 11pt/1.4 sans-serif; color: {PAPER.ink}; background: {PAPER.paper}; }}
body {{ max-width: 182mm; margin: 1rem auto; }}
h1 {{ font-size: 18pt; margin: 0 0 2mm; }}
h2 {{ font-size: 13pt; margin: 5mm 0 1mm; }}
h3 {{ font-size: 11pt; margin: 2mm 0 0; }}
p, li {{ margin: 1mm 0; }} .small {{ font-size: 9pt; color: {PAPER.quiet}; }}
.pair {{ display: grid; grid-template-columns: 1fr 1fr; gap: 4mm; }} svg {{ max-width: 100%; height: auto; }}
figure {{ margin: 0; break-inside: avoid; }} .second {{ break-before: page; }}
.answer {{ font-size: 12pt; }}
@media print {{
  body {{ font: 9pt/1.3 sans-serif; margin: 0; }} h1 {{ font-size: 14pt; }} h2 {{ font-size: 11pt; margin-top: 3mm; }}
  .answer {{ font-size: 10.5pt; }} .pair {{ gap: 1mm 4mm; }} .pair svg {{ max-height: 54mm; }}
  .small {{ font-size: 8pt; }} ol {{ margin: 1mm 0; }} details {{ display: none; }}
}}
.failed {{ border: 2px solid {PAPER.warning}; padding: 2mm; }}
"""


def marked(text: str) -> str:
    """Return escaped text; **bold** is kept."""
    parts = html.escape(text).split("**")
    return "".join(f"<b>{part}</b>" if place % 2 else part for place, part in enumerate(parts))


def paragraph(text: str, kind: str = "") -> str:
    """Return an escaped paragraph; **bold** is kept."""
    return f"<p{f' class={kind!r}' if kind else ''}>{marked(text)}</p>"


def listed(lines: Iterable[str]) -> str:
    """Return an ordered list."""
    return "<ol>" + "".join(f"<li>{marked(line)}</li>" for line in lines) + "</ol>"


def figure(chart: theme.Chart, title: str) -> str:
    """Return a chart as an SVG figure with its title and alternative text."""
    alt = html.escape(chart.settings["description"], quote=True)
    drawing = theme.svg(chart)
    return f'<figure role="img" aria-label="{alt}"><h3>{html.escape(title)}</h3>{drawing}</figure>'


def goals(read: Reading) -> list[str]:
    """Return the first question: are the students better?"""
    found = goal_rows(read, GOALS)
    judged = [(row, goal["better"]) for goal, rows in found for row in rows.iter_rows(named=True)]
    parts = [
        *(paragraph(line, "answer") for line in people_sentences.lead(judged, read.shown)),
        paragraph(cohort_levels.KEY, "small"),
        '<div class="pair">',
    ]
    lines = []
    for goal, rows in found:
        shown = read.shown(goal["metric"], goal["club_group"])
        title = first_up(subject(shown, goal["club_group"], rows["measure"][0]))
        parts.append(figure(cohort_levels.chart(rows, shown, PAPER, title, goal["better"], width=450), title))
        lines += [people_sentences.cohort_change(row, shown) for row in rows.iter_rows(named=True)]
    return [
        *parts,
        "</div>",
        paragraph(words.DIRECTION_NUMBERS, "small"),
        f"<details><summary>{words.READ_ALOUD}</summary>{listed(lines)}</details>",
    ]


def attention(read: Reading, names: bool) -> list[str]:
    """Return what needs attention; names only if asked for, never a minor's."""
    lines = []
    things = read.ask("attention")
    for thing in things.head(MOST_THINGS).iter_rows(named=True):
        unnamed = thing["subject"] == "student" and (thing["minor"] or not names)
        who = thing["subject_id"] if unnamed else thing["shown_as"]
        named = {**thing, "shown_as": who}
        about = f" ({who})" if thing["subject"] == "student" else ""
        lines.append(f"{attention_sentences.attention(named, read.inner_number)}{about}")
    better = read.ask("students_listed").filter(pl.col("side") == "better")
    told = paragraph(attention_sentences.listed_better(list(better.iter_rows(named=True))))
    title = f"<h2>{words.SECTIONS['attention']}</h2>"
    if things.height > MOST_THINGS:
        lines.append(week_sentences.MORE.format(count=things.height - MOST_THINGS))
    return [told, title, listed(lines) if lines else paragraph(words.EMPTY["attention"])]


def drills(read: Reading) -> list[str]:
    """Return the drills compared for the number with most of them, and a sentence for each other number."""
    numbers = read.ask("drill_choices")
    parts = [f"<h2>{html.escape(words.QUESTIONS['drills'])}</h2>"]
    if numbers.is_empty():
        return [*parts, paragraph(words.EMPTY["effects"])]
    whole = set(numbers.filter(pl.col("club_group") == "any")["metric"])
    early = []
    for place, (group, metric) in enumerate(numbers.select("club_group", "metric").iter_rows()):
        rows, measure, better = drill_rows(read, group, metric)
        rows = rows.filter("is_aim")
        shown = read.shown(metric, group, measure)
        told = list(rows.iter_rows(named=True))
        if drill_sentences.all_early(told):
            early.append(read.number(metric, group))
        elif place == 0 or group == "any" or metric not in whole:
            parts.append(paragraph(drill_sentences.best_drill(told, shown, group)))
        if place == 0:
            chart = forest.chart(rows, shown, PAPER, better, words.axis_title(measure, better), width=820)
            parts += [paragraph(forest.KEY, "small"), figure(chart, read.number(metric, group))]
    return [*parts, paragraph(words.TOO_EARLY_FOR.format(numbers=", ".join(early)), "small")] if early else parts


def bays(read: Reading) -> list[str]:
    """Return whether every bay reported on the last night."""
    nights = read.ask("bay_nights", nights=1)
    if nights.is_empty():
        return []
    return [
        f"<h2>{html.escape(words.QUESTIONS['bays'])}</h2>",
        paragraph(night_sentences.bays(list(nights.iter_rows(named=True)))),
    ]


def render(home: Home, *, names: bool = False) -> str:
    """Return the page's HTML.

    Parameters
    ----------
    names
        Whether students of age who agreed are named; else all stand by their ids.

    Raises
    ------
    FileNotFoundError
        Nothing is published in this home.
    """
    if home.published is None:
        raise FileNotFoundError(words.NOTHING_PUBLISHED.format(home=home.folder))
    read = Reading(home, home.published)
    failed = [paragraph(night_sentences.failed_run(home.last_run), "failed")] if home.failed else []
    body = [
        f"<h1>{words.REVIEW_TITLE}: {html.escape(words.QUESTIONS['week'])}</h1>",
        paragraph(night_sentences.freshness(read.publication), "small"),
        *failed,
        *([paragraph(old, "failed")] if (old := night_sentences.age(read.publication, home.today)) else []),
        *goals(read),
        *attention(read, names),
        '<div class="second"></div>',
        *drills(read),
        *bays(read),
        f"<h2>{words.SECTIONS['owner']}</h2>",
        paragraph(people_sentences.owner(read.ask("academy_week").row(0, named=True))),
        paragraph(words.OWNER_NOTE, "small"),
        paragraph(words.NO_COACHES, "small"),
    ]
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{words.REVIEW_TITLE}</title>'
        f"<style>{STYLE}</style></head><body>\n" + "\n".join(body) + "\n</body></html>\n"
    )


def main(arguments: list[str] | None = None) -> int:
    """Write the review; print where it is."""
    parser = argparse.ArgumentParser(prog="python -m dashboard.handouts.week_review", description=words.REVIEW_TITLE)
    parser.add_argument("--home", type=Path, help="the academy's home folder")
    parser.add_argument("--names", action="store_true", help="name students of age; else all stand by their ids")
    parser.add_argument("--out", type=Path, help="file to write; review.html in the home's folder if not given")
    given = parser.parse_args(arguments)
    home = read_home(given.home)
    out = given.out or home.folder / "review.html"
    try:
        text = render(home, names=given.names)
    except FileNotFoundError as fault:
        print(fault, file=sys.stderr)
        return 2
    out.write_text(text, encoding="utf-8")
    print(out)
    return 0


if __name__ == "__main__":
    sys.exit(main())
