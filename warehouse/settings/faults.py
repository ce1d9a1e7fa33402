"""What is wrong with academy.toml, in words: the key, the nearest one that exists, and the remedy.

Not here: which settings there are (settings.py).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel
from pydantic.fields import FieldInfo

LONGEST = 80
NEAR = 0.5
"""Likeness from which another key is taken to be the one that was meant."""


def in_words(error: Mapping[str, Any], root: type[BaseModel]) -> str:
    """Return one fault (of pydantic's `errors()`) as a sentence with its remedy.

    A value is repeated only where it is of the wrong kind or size: one refused for what it holds may be a secret.
    """
    place = [str(part) for part in error["loc"]]
    key = ".".join(place)
    if error["type"] == "extra_forbidden":
        return f"{key}: there is no such setting; {_remedy(place, root)}"
    said = str(error["msg"]).removeprefix("Value error, ")
    given = "" if error["type"] == "value_error" else f" (given: {_shown(error['input'])})"
    field = _field(place, root)
    if field is None:
        return f"{key}: {said}{given}; correct it, or take the line out"
    return (
        f"{key}: {said}{given}; it is: {field.description}. Correct it, or take the line out for the default "
        f"({field.get_default(call_default_factory=True)!r})"
    )


def _shown(value: object) -> str:
    """Return a value as it was given, the beginning of a long one."""
    try:
        said = repr(value)
    except ValueError:
        return "a number of thousands of digits"
    return said if len(said) <= LONGEST else said[: LONGEST - 3] + "..."


def _remedy(place: list[str], root: type[BaseModel]) -> str:
    *section, key = place
    every = list(_settings(root))
    elsewhere = [".".join(one) for one in every if one[-1] == key]
    if elsewhere:
        table, _, name = elsewhere[0].rpartition(".")
        return f"{name} belongs under [{table}]: move it there"
    here = [one for one in every if one[:-1] == section] or [one for one in every if len(one) == len(place)]
    near = get_close_matches(key, [one[-1] for one in here], n=1, cutoff=NEAR)
    if near:
        meant = next(".".join(one) for one in here if one[-1] == near[0])
        return f"the nearest is {meant}: correct it, or take the line out"
    known = ", ".join(sorted(one[-1] for one in here))
    return f"known here: {known}; correct it, or take the line out"


def _settings(root: type[BaseModel], above: tuple[str, ...] = ()) -> Iterator[list[str]]:
    """Yield the place of every table and key of the settings."""
    for name, field in root.model_fields.items():
        yield [*above, name]
        inner = field.annotation
        if isinstance(inner, type) and issubclass(inner, BaseModel):
            yield from _settings(inner, (*above, name))


def _field(place: list[str], root: type[BaseModel]) -> FieldInfo | None:
    model: Any = root
    for depth, name in enumerate(place):
        field = model.model_fields.get(name) if isinstance(model, type) and issubclass(model, BaseModel) else None
        if field is None:
            return None
        if depth == len(place) - 1:
            return field if field.description else None
        model = field.annotation
    return None
