"""Small text: names as they are compared and said, lines that can be shown, counts and lists in words, JSON."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from unicodedata import normalize

LOOSE = "beside"  # begins the name of a strip that lies beside the card: beside-1
WINDOWS = ("left", "right")  # windows that say where they lie


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


def typed(name: str) -> str:
    """A name as it is typed in a command: in quotes where it has blanks."""
    return f'"{name}"' if " " in name else name


def strip_words(name: str) -> str:
    """A strip as it is called in a sentence: left is "left strip", beside-1 is "loose strip 1"."""
    if name.startswith(LOOSE):
        return f"loose strip {name.removeprefix(LOOSE).removeprefix('-')}"
    return f"{name} strip" if name in WINDOWS else f"strip {name}"


def the_strip(name: str) -> str:
    """The same as a person points at it: "the left strip", "loose strip 1"."""
    words = strip_words(name)
    return words if name.startswith(LOOSE) else f"the {words}"


def duration(seconds: float) -> str:
    """ "45 s", "4 min", "1 min 30 s"."""
    minutes, rest = divmod(seconds, 60)
    return " ".join([f"{minutes:g} min"] * (minutes > 0) + [f"{rest:g} s"] * (rest > 0 or not minutes))


def let_down_words(parts: float) -> str:
    """How far ink was thinned with clear base: "let down 1:10"; "" for the ink itself."""
    return f"let down 1:{parts:g}" if parts else ""


def json_text(facts: Mapping[str, object]) -> str:
    """One JSON object for programs.

    Raises
    ------
    ValueError
        A number in it is none that JSON has, such as NaN.
    """
    return json.dumps(facts, indent=2, ensure_ascii=False, allow_nan=False)
