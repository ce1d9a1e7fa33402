"""A card for tees without a network: the student's drills with their cautions, and lines to write on; one HTML file."""

from __future__ import annotations

import html
from collections.abc import Sequence

import streamlit as st

from dashboard.notebook import bay_and_student, goal
from dashboard.notebook import holds as notebook_holds
from dashboard.notebook import trial as notebook_trial
from dashboard.notebook.actions import Place
from dashboard.shell import access, components, theme
from dashboard.shell.page_context import Reading
from dashboard.text import notebook as words
from dashboard.text.drill_sentences import Row

LINES = 6
PAPER = theme.LIGHT
STYLE = f"""
@page {{ size: A4; margin: 14mm; }}
body {{ font: 11pt/1.3 sans-serif; color: {PAPER.ink}; background: {PAPER.paper}; max-width: 182mm; }}
body {{ margin: 1rem auto; }} h1 {{ font-size: 18pt; margin: 0 0 2mm; }} h2 {{ font-size: 13pt; margin: 3mm 0 1mm; }}
p {{ margin: 1mm 0; }} .caution {{ border-left: 1.5mm solid {PAPER.warning}; padding-left: 3mm; }}
table {{ border-collapse: collapse; width: 100%; }} th:first-child {{ width: 34%; }}
th {{ font-size: 10pt; text-align: left; font-weight: bold; }}
th, td {{ border: 1px solid {PAPER.quiet}; padding: 1mm 2mm; }} td {{ height: 8mm; }}
article {{ break-inside: avoid; }} .small {{ font-size: 10pt; color: {PAPER.quiet}; }}
"""


def render(student: str, bay: str, day: str, drills: Sequence[Row], lots: Sequence[str] = ()) -> str:
    """Return the card.

    Parameters
    ----------
    student, bay, day
        Who, where, when, as printed.
    drills
        Rows with name, setup, caution; three at most fit a page.
    lots
        What was drawn for this student in a trial, in words; a lot comes from the notebook only, never from paper.
    """
    card = words.CARD
    who = " · ".join(
        f"<b>{card[key]}</b> {html.escape(text)}" for key, text in (("student", student), ("bay", bay), ("day", day))
    )
    blank = "<tr>" + "<td></td>" * len(card["columns"]) + "</tr>"
    head = "".join(f"<th>{html.escape(title)}</th>" for title in card["columns"])
    drawn = "".join(f"<p><b>{html.escape(lot)}</b></p>" for lot in lots)
    told = "".join(
        f"<article><h2>{html.escape(row['name'])}</h2>"
        f'<p class="caution"><b>{card["caution"]}</b> {html.escape(words.caution(row["caution"]))}</p>'
        f"<p>{html.escape(row['setup'] or '')}</p></article>"
        for row in drills
    )
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{card["title"]}</title>'
        f"<style>{STYLE}</style></head><body><h1>{card['title']}</h1><p>{who}</p>"
        f"{drawn}<h2>{card['drills']}</h2>{told}<h2>{card['lines']}</h2>"
        f"<table><tr>{head}</tr>{blank * LINES}</table>"
        f"<p>{card['marks']}: ________________________________</p>"
        f'<p class="small">{card["copy"]}</p></body></html>\n'
    )


def offer(read: Reading, place: Place, student: Row) -> None:
    """Offer the card for download."""
    components.section(words.SECTIONS["card"])
    st.markdown(words.CARD_HELP)
    today = place.now().date()
    holds = notebook_holds.in_force(read.home, place.student_id, today)
    number = bay_and_student.goal_number(read, place.student_id, goal.latest(read, place.student_id))
    drills = bay_and_student.suggested(read, place.student_id, number, holds)
    lots = notebook_trial.told(read, place)
    page = render(student["shown_as"], place.bay_id, f"{today:%d.%m.%Y}", drills, lots).encode()
    access.download(
        words.CARD_DOWNLOAD, page, f"card-{place.student_id}.html", "text/html", home=read.home, key="card",
        detail=f"card for {place.student_id}",
    )  # fmt: skip
