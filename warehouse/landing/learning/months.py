"""Names of months in the languages of exports, by CLDR (babel). Not here: forms of times (times.py)."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from babel.dates import get_month_names

LANGUAGES = ("de", "fr", "es", "it", "nl", "pt", "sv", "cs", "pl", "da", "nb", "fi", "hu", "ro")
ENGLISH = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@cache
def months_in(language: str) -> dict[str, str]:
    """Return a language's names of months, whole and short, as English short ones."""
    names: dict[str, str] = {}
    for width in ("wide", "abbreviated"):
        for context in ("format", "stand-alone"):
            for number, name in get_month_names(width, context, language).items():
                names[name.casefold().rstrip(".")] = ENGLISH[number - 1]
    return names


def languages_of(texts: Iterable[str]) -> list[str]:
    """Return the languages whose months stand in texts, those with most first."""
    said = {part.strip(".,").casefold() for text in texts for part in text.replace("-", " ").replace("/", " ").split()}
    said = {part for part in said if part.isalpha() and len(part) >= 3}
    counts = {language: len(said & months_in(language).keys()) for language in LANGUAGES}
    return sorted((language for language in counts if counts[language]), key=lambda one: -counts[one])
