"""What is proposed for a profile, line by line: each with how sure it is and why, or with the question it leaves open.

Rendered as the profile's TOML. An open question stands as "?" where its answer goes. Not here: how anything is found.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

OPEN = "?"
SAID, SURE, LIKELY, ASSUMED, KEPT, QUESTION = "said", "sure", "likely", "assumed", "kept", "QUESTION"
"""How a line is known: a file says it; evidence decides; it speaks for it; nothing speaks against it; it stood in the
profile already; it is asked."""
SECTIONS = ("file", "rows", "fields", "columns", "inbox")
SURE_FROM, LIKELY_FROM = 6.0, 3.0
"""Nats: odds of about 400 and of 20."""


def level(nats: float) -> str:
    """Return how sure a margin makes a line."""
    return SURE if nats >= SURE_FROM else LIKELY if nats >= LIKELY_FROM else QUESTION


@dataclass(frozen=True)
class Question:
    """Something that the samples cannot tell.

    Attributes
    ----------
    key
        Where its answer goes, such as columns.lateral.positive.
    text
        The question, with what speaks for each answer.
    options
        Answers that fit; empty: free text.
    with_key
        Another question that settles this one too: it is not counted.
    """

    key: str
    text: str
    options: tuple[str, ...] = ()
    with_key: str | None = None


@dataclass
class Entry:
    """One line of the profile: section, key, value, how it is known and why."""

    section: str
    key: str
    value: Any
    how: str
    why: str
    questions: list[Question] = field(default_factory=list)


@dataclass
class Proposal:
    """All lines of a profile, and what else was noticed."""

    name: str
    entries: list[Entry] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def add(self, section: str, key: str, value: Any, how: str, why: str, *questions: Question) -> None:
        """Add a line."""
        self.entries.append(Entry(section, key, value, QUESTION if questions else how, why, list(questions)))

    @property
    def questions(self) -> list[Question]:
        """Return every open question; those that another one settles come with it."""
        return [question for entry in self.entries for question in entry.questions]

    @property
    def to_ask(self) -> list[Question]:
        """Return the questions that have to be answered, each once."""
        return [question for question in self.questions if question.with_key is None]

    def values(self) -> dict[str, Any]:
        """Return the profile as its TOML would be read."""
        said: dict[str, Any] = {"name": self.name}
        for section in SECTIONS:
            lines = {entry.key: entry.value for entry in self.entries if entry.section == section}
            if lines:
                said[section] = lines
        return said

    def toml(self, sources: str) -> str:
        """Return the profile's text, every line with how sure it is and why."""
        lines = [
            f"# How exports of this make are read: proposed from {sources}.",
            "# Above each line: how sure it is and why. said: the file says so; sure, likely: by the numbers; assumed: "
            "nothing speaks",
            '# against it; kept: it stood here before; QUESTION: write the answer in place of "?", then run',
            "# `academy learn-export` with the same name and files again, or `academy check-exports`.",
            f"name = {quoted(self.name)}",
        ]
        numbers = {question.key: n for n, question in enumerate(self.to_ask, start=1)}
        for section in SECTIONS:
            entries = [entry for entry in self.entries if entry.section == section]
            if entries:
                lines += ["", f"[{section}]"]
            for entry in entries:
                lines += _comments(entry, numbers)
                lines.append(f"{_bare_key(entry.key)} = {as_toml(entry.value)}")
        return (
            "\n".join(
                [*lines, *(["", *(f"# noticed: {_flat(remark)}" for remark in self.remarks)] if self.remarks else [])]
            )
            + "\n"
        )


def _comments(entry: Entry, numbers: dict[str, int]) -> list[str]:
    lines = (
        [f"# {entry.how}: {_flat(entry.why)}" if not entry.questions else f"# {_flat(entry.why)}"] if entry.why else []
    )
    for question in entry.questions:
        if question.with_key is not None:
            lines.append(f"# QUESTION, settled with {numbers.get(question.with_key, '')}: {_flat(question.text)}")
        else:
            fits = f" Answers: {', '.join(question.options)}." if question.options else ""
            lines.append(f"# QUESTION {numbers[question.key]}: {_flat(question.text)}{fits}")
    return lines


def _flat(text: str) -> str:
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _bare_key(key: str) -> str:
    return (
        key if key and all(letter.isascii() and (letter.isalnum() or letter in "_-") for letter in key) else quoted(key)
    )


def quoted(text: str) -> str:
    """Return a TOML string; literal where that spares escapes."""
    if "\\" in text and "'" not in text and text.isprintable():
        return f"'{text}'"
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in escaped) + '"'


def as_toml(value: Any) -> str:
    """Return a value as TOML writes it, tables inline."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return str(value)
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(as_toml(item) for item in value) + "]"
    if not value:
        return "{}"
    return "{ " + ", ".join(f"{_bare_key(key)} = {as_toml(item)}" for key, item in value.items()) + " }"
