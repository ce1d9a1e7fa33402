"""A finished trial's report as one HTML file for print, in the order of CONSORT: asked, drawn, done, measured, found.

Students are counted, nobody is named. Not here: the numbers (warehouse/trials/outcomes.py).
"""

from __future__ import annotations

import html
from collections.abc import Sequence
from dataclasses import dataclass

from dashboard.shell import theme
from dashboard.text import trials as words

PAPER = theme.LIGHT
STYLE = f"""
@page {{ size: A4; margin: 16mm; }}
body {{ font: 11pt/1.4 sans-serif; color: {PAPER.ink}; background: {PAPER.paper}; }}
body {{ max-width: 178mm; margin: 1rem auto; }}
h1 {{ font-size: 19pt; margin: 0 0 2mm; }} h2 {{ font-size: 13pt; margin: 5mm 0 1mm; }} h3 {{ font-size: 11pt; }}
h3 {{ margin: 2mm 0 0; }} p, li {{ margin: 1mm 0; }} ul {{ margin: 0; }} figure {{ margin: 2mm 0; }}
svg {{ max-width: 100%; height: auto; }} .answer {{ font-size: 13pt; }} .small {{ font-size: 9.5pt; }}
.small {{ color: {PAPER.quiet}; overflow-wrap: anywhere; }} section {{ break-inside: avoid; }}
@media print {{ body {{ margin: 0 auto; }} }}
"""


@dataclass(frozen=True)
class Report:
    """What stands in the report, as plain text; marks of Markdown are taken out when it is made."""

    title: str
    when: str
    plan: str
    found: Sequence[str]
    flow: Sequence[tuple[str, Sequence[str]]]
    balance: Sequence[str]
    evidence: Sequence[str]
    harm: Sequence[str]
    looks: Sequence[str]
    honest: Sequence[str]
    commitment: str
    chart: theme.Chart | None


def lots(title: str, rows: Sequence[tuple[str, str, str]]) -> str:
    """Return the lots drawn so far as HTML for print: student, what was drawn, day. There is no list of those to come.

    Parameters
    ----------
    title
        The trial's, as typed.
    rows
        Student, group and day in words.
    """
    head = "".join(f"<th>{html.escape(one)}</th>" for one in words.LOTS_COLUMNS)
    body = "".join("<tr>" + "".join(f"<td>{html.escape(one)}</td>" for one in row) + "</tr>" for row in rows)
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{html.escape(title)}</title>'
        f"<style>{STYLE} td, th {{ text-align: left; padding: 1mm 4mm 1mm 0; }}</style></head><body>"
        f"<h1>{html.escape(title)}</h1><table><tr>{head}</tr>{body}</table>"
        f'<p class="small">{html.escape(words.LOTS_NOTE)}</p></body></html>\n'
    )


def unmarked(text: str) -> str:
    """Return a sentence without the marks that make names bold, and without escapes of Markdown."""
    return text.replace("**", "").replace("\\", "")


def items(lines: Sequence[str]) -> str:
    """Return escaped lines as a list; a dash where there are none."""
    if not lines:
        return "<p>–</p>"
    return "<ul>" + "".join(f"<li>{html.escape(unmarked(line))}</li>" for line in lines) + "</ul>"


def section(title: str, body: str) -> str:
    """Return a section with its heading."""
    return f"<section><h2>{html.escape(title)}</h2>{body}</section>"


def render(report: Report) -> str:
    """Return the report as HTML that holds all it needs."""
    flow = "".join(f"<h3>{html.escape(head)}</h3>{items(lines)}" for head, lines in report.flow)
    answer = "".join(f'<p class="answer">{html.escape(unmarked(line))}</p>' for line in report.found)
    picture = ""
    if report.chart is not None:
        described = html.escape(report.chart.settings["description"], quote=True)
        picture = f'<figure role="img" aria-label="{described}">{theme.svg(report.chart)}</figure>'
        picture += f'<p class="small">{html.escape(words.KEY_EFFECT)}</p>'
    parts = [
        f"<h1>{html.escape(unmarked(report.title))}</h1><p>{html.escape(report.when)}</p>",
        section(words.SECTIONS["plan"], f"<p>{html.escape(unmarked(report.plan))}</p><p>{html.escape(words.WHO)}</p>"),
        section(words.SECTIONS["flow"], flow),
        section(words.SECTIONS["balance"], items(report.balance)),
        section(words.SECTIONS["result"], answer + picture),
        section(words.SECTIONS["evidence"], items(report.evidence)),
        section(words.SECTIONS["harm"], items(report.harm)),
        section(words.LOOKS_TAKEN, items(report.looks) if report.looks else f"<p>{html.escape(words.NO_LOOKS)}</p>"),
        section(words.SECTIONS["honest"], items(report.honest)),
        f'<p class="small">{html.escape(words.CHECKED_BY_SUM)}: {html.escape(report.commitment)}</p>',
        f'<p class="small">{html.escape(words.REPORT_NOTE)}</p>',
    ]
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{html.escape(unmarked(report.title))}'
        f"</title><style>{STYLE}</style></head><body>\n" + "\n".join(parts) + "\n</body></html>\n"
    )
