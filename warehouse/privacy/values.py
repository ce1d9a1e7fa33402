"""What of a refused cell, a path or a message may be shown to everybody: a number, a time, a club, a short word.

A cell that could name a person is withheld, whoever that is: a guest stands in no table. Not here: whose names are
known (people.py), nor where the cells are (masking.py).
"""

from __future__ import annotations

import hashlib
import hmac
import re

from warehouse.privacy.folding import MOJIBAKE, WORD, folded_words
from warehouse.privacy.names import NAME, KnownNames, mask_quoted, vocabulary

WITHHELD = "(withheld)"
CAPITALS = 4
"""Letters from which a word in capitals may be a name."""
ENDING = re.compile(r"(?:\.(?:csv|tsv|txt|parquet|jsonl?|xls[xmb]?|ods|xml|html?|zip|pdf))(?:\.(?:gz|zip))?$", re.I)
PATH = re.compile(
    r"(?:\d{4}-\d\d-\d\d/|inbox/)[^\n]*?\.(?:csv|tsv|txt|parquet|jsonl?|xls[xmb]?|ods|xml|html?|zip|pdf)(?:\.gz)?\b",
    re.I,
)
"""How a message writes an export's path: from its night or the inbox on."""
MONTHS = frozenset(
    ("jan", "feb", "mar", "apr", "may", "mai", "jun", "jul", "aug", "sep", "sept", "oct", "okt", "nov", "dec", "dez")
)
CLUB_WORDS = frozenset(["wood", "holz", "iron", "eisen", "wedge", "hybrid", "driver", "putter", "bois", "fer"])


def unknown_words(text: str) -> list[str]:
    """Return the words of a text, three letters and longer, that are none of the program's own and no month."""
    own = vocabulary() | MONTHS | CLUB_WORDS
    return [word for word in WORD.findall(text) if len(word) > 2 and not set(folded_words(word)) <= own]


def may_name_somebody(text: str, names: KnownNames) -> bool:
    """Return whether a cell holds a name or a part of one, an address, or words that look like a stranger's name."""
    if names.holds_part(text):
        return True
    said = WORD.findall(text)
    if not said:
        return False
    if "@" in text or "\ufffd" in text or MOJIBAKE.search(text):
        return True
    unknown = unknown_words(text)
    if len(unknown) > 1:
        return True
    return any(word[0].isupper() and (not word.isupper() or len(word) >= CAPITALS) for word in unknown)


def shown_value(value: str | None, column: str | None, names: KnownNames) -> str | None:
    """Return a refused cell as everybody may see it.

    Parameters
    ----------
    column
        The canonical column, or None where the whole row is at fault. Clubs are words: of those a single one is shown,
        or two with a club's own word.
    """
    if not value:
        return value
    if column == "club" and not names.holds_part(value):
        said = folded_words(value)
        if len(said) == 1 or (len(said) == 2 and CLUB_WORDS & set(said)):
            return value
    return WITHHELD if may_name_somebody(value, names) else value


def keyed(text: str, key: bytes) -> str:
    """Return a few signs that tell one masked text from another, and that nobody can find a name by without the key."""
    return hmac.new(key, text.encode("utf-8", "surrogatepass"), hashlib.sha256).hexdigest()[:6]


def masked_key(text: str, names: KnownNames, key: bytes) -> str:
    """Return an id or a cohort's name with the names in it masked, the same at every run, each its own."""
    masked = names.mask(text)
    return text if masked == text else masked.replace(NAME, f"{NAME[:-1]} {keyed(text, key)})", 1)


def stem(file: str) -> str:
    """Return a file's name without what says its kind."""
    return ENDING.sub("", file)


def shown_path(path: str, names: KnownNames, key: bytes, bays: frozenset[str] = frozenset()) -> str:
    """Return an export's path as everybody may see it; a bay's own name stays where no person has it."""
    *folders, file = path.split("/")
    shown = [_hidden(folder, key) if names.holds(folder) else folder for folder in folders]
    name = stem(file)
    hurts = names.holds(name) if name in bays else names.holds_part(name) or len(unknown_words(name)) > 1
    return "/".join([*shown, (_hidden(name, key) if hurts else name) + file[len(name) :]])


def _hidden(part: str, key: bytes) -> str:
    return f"{NAME[:-1]} {keyed(part, key)})"


def shown_message(
    text: str, names: KnownNames, key: bytes, bays: frozenset[str] = frozenset(), quoted: tuple[str, ...] = ()
) -> str:
    """Return a message of the program about outside text as everybody may see it; `quoted` is withheld in quotes."""
    hidden = list(quoted)

    def path(found: re.Match[str]) -> str:
        shown = shown_path(found.group(), names, key, bays)
        if shown != found.group():
            hidden.extend((found.group().rsplit("/", 1)[-1], stem(found.group().rsplit("/", 1)[-1])))
        return shown

    said = PATH.sub(path, text)
    for name in hidden:
        said = said.replace(f"'{name}'", f"'{NAME}'")
    return mask_quoted(names, said)
