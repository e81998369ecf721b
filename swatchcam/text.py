"""Small text: names as they are compared, lines that can be shown, counts and lists in words."""

from __future__ import annotations

from collections.abc import Sequence
from unicodedata import normalize


def key(name: str) -> str:
    """What a name is known by: small letters, single blanks."""
    # Folding may take a letter apart that was composed before.
    return normalize("NFC", normalize("NFC", " ".join(name.split())).casefold())


def tidy(text: str) -> str:
    """One line that can be shown: blanks and breaks become one blank, what cannot be seen falls away."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def counted(number: int, noun: str, plural: str = "") -> str:
    """ "1 photo", "2 photos"."""
    return f"{number} {noun if number == 1 else plural or noun + 's'}"


def listed(words: Sequence[str]) -> str:
    """ "a", "a and b", "a, b and c"."""
    return " and ".join(filter(None, [", ".join(words[:-1]), *words[-1:]]))
